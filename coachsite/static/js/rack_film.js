// One rack as it falls: plays the recorded states, one after the other, with nothing in between.
// Without this script, in print, or where less motion is asked for, two stills tell the same.

const calm = matchMedia("(prefers-reduced-motion: reduce)");

// What a track holds at a state's number: its first before it moves, its last after; null once gone.
function at(track, frame) {
  const place = Math.max(frame - track.start, 0);
  if (place < track.states.length) return track.states[place];
  return track.gone ? null : track.states.at(-1);
}

function mount(film) {
  const data = JSON.parse(film.querySelector("script[type='application/json']").textContent);
  const player = film.querySelector(".player");
  const svg = player.querySelector("svg");
  const play = player.querySelector("[data-play]");
  const moment = player.querySelector("[data-moment]");
  const clock = player.querySelector("[data-clock]");
  const bodies = data.tracks.map((track, number) => {
    const shape = svg.querySelector(`[data-body="${number}"]`);
    return { track, shape, path: shape.querySelector("path"), drawn: -1 };
  });
  let timer = null;

  function draw(frame) {
    const standing = [];
    bodies.forEach((body, number) => {
      const state = at(body.track, frame);
      body.shape.setAttribute("visibility", state ? "visible" : "hidden");
      if (!state) return;
      const [x, y, turn, outline, down] = state;
      if (number === 0) {
        body.shape.setAttribute("cx", x);
        body.shape.setAttribute("cy", y);
        return;
      }
      body.shape.setAttribute("transform", `translate(${x} ${y})`);
      body.shape.classList.toggle("down", down === 1);
      if (outline !== body.drawn) body.path.setAttribute("d", data.shapes[outline]);
      body.drawn = outline;
      body.path.setAttribute("transform", `rotate(${turn})`);
      if (!down) standing.push(number);
    });
    const seconds = ((frame - data.contact) * data.every_ms) / 1000;
    clock.textContent = `${seconds.toFixed(3)} s`;
    moment.value = frame;
    moment.setAttribute("aria-valuetext", `${seconds.toFixed(3)} s after the first contact, ${standing.length ? `standing: ${standing.join(" ")}` : "all down"}`);
  }

  function stop() {
    clearInterval(timer);
    timer = null;
    play.textContent = "Play";
  }

  function start() {
    if (Number(moment.value) >= data.frames - 1) draw(0);
    play.textContent = "Pause";
    timer = setInterval(() => {
      if (!film.isConnected || Number(moment.value) >= data.frames - 1) return stop();
      draw(Number(moment.value) + 1);
    }, data.every_ms * data.slower);
  }

  play.addEventListener("click", () => (timer ? stop() : start()));
  moment.addEventListener("input", () => {
    stop();
    draw(Number(moment.value));
  });
  for (const button of player.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      stop();
      draw(Math.min(Math.max(Number(moment.value) + Number(button.dataset.step), 0), data.frames - 1));
    });
  }
  player.hidden = false;
  film.classList.add("is-live");
  calm.addEventListener("change", () => calm.matches && stop());
  draw(0);
  return start;
}

for (const film of document.querySelectorAll("[data-film]")) mount(film);

// Fetched because somebody asked to watch: it plays at once, and its words are read out.
document.body.addEventListener("htmx:afterSwap", ({ detail }) => {
  const film = detail.target.querySelector?.(":scope > [data-film]");
  if (!film) return;
  const start = mount(film);
  film.querySelector("[data-words] p").focus({ preventScroll: true });
  if (!calm.matches) start();
});
