// The shot log at the lane. What was not touched is not recorded: the last shot's values stand
// ready in grey, one tap takes one over. Saving goes through the outbox, so the network may fail.

import { Outbox, keep, kept, newKey } from "./outbox.js";
import { LiveRead } from "./live_read.js";
import { openPad } from "./number_pad.js";
import { PINS, besideCorner, cornerAlone, leaveOf, nextPlace, rackAt, standingAfter } from "./rack.js";
import { emptyShot, refusal, shotsWith, usualBall } from "./shot_rows.js";

const data = JSON.parse(document.getElementById("log-data").textContent);
const DRAFT = `draft:${data.session}`;
const MODE = `mode:${data.session}`;
const DOUBLE_TAP_MS = 700;
const LISTED = 6;
const STICKY = ["stand", "aim"]; // a plan holds until it is changed; what is seen does not
const PLACE = ["game", "frame", "delivery", "lane"];
const steppers = [...document.querySelectorAll(".stepper")];
const EMPTY = emptyShot(data.columns);

const outbox = new Outbox(data.session);
const live = new LiveRead(data.session, () => shotsNow().at(-1)?.shot ?? 0);
const rows = new Map(data.shots.map((row) => [row.id, row])); // as the server has them
const at = (id) => document.getElementById(id);
let editing = null;
let draft = null;
let aside = null; // the half-logged shot, while an earlier one is changed
let savedAt = 0;
let lastSaved = null;

// --- The shots as they are now.

function shotsNow() {
  return shotsWith(rows, outbox.entries, data.columns);
}

function before() {
  const shots = shotsNow();
  if (!editing) return shots;
  const row = shots.find((shot) => shot.id === editing);
  return row ? shots.filter((shot) => shot.shot < row.shot) : shots;
}

function nextNumber() {
  return (shotsNow().at(-1)?.shot ?? 0) + 1;
}

function games() {
  const chosen = kept(MODE);
  if (chosen) return chosen === "games";
  const last = shotsNow().at(-1);
  return last ? last.frame !== null : data.competition;
}

// --- The draft: one shot on its way, kept through a reload.

function freshDraft() {
  const shots = shotsNow();
  const place = nextPlace(shots, { games: games(), lanes: data.lanes });
  const values = { ...EMPTY, ball: usualBall(shots, rackAt(shots, place), data.balls) };
  for (const name of STICKY) values[name] = lastValue(name, shots, true);
  return { place, values };
}

function lastValue(name, shots, first) {
  return shots.findLast((shot) => shot[name] !== null && (shot.delivery === 1) === first)?.[name] ?? null;
}

function draftOf(row) {
  const place = Object.fromEntries(PLACE.map((name) => [name, row[name]]));
  return { place, values: Object.fromEntries(Object.keys(EMPTY).map((name) => [name, row[name]])) };
}

function set(name, value) {
  draft.values[name] = value;
  if (name === "throw" && value !== "off") draft.values.miss = "";
  if (name === "leave") draft.values.neighbour_pin = "";
  touched();
}

function setPlace(changes) {
  Object.assign(draft.place, changes);
  draft.placed = true;
  const rack = rackAt(before(), draft.place);
  const pins = standingAfter(draft.values.leave, rack.standing) ?? [];
  if (pins.some((pin) => !rack.standing.includes(pin))) draft.values.leave = "";
  if (!editing) draft.values.ball = usualBall(before(), rack, data.balls);
  touched();
}

function touched() {
  keep(DRAFT, editing ? aside : draft);
  render();
}

// --- Saving, undoing, changing.

function collected() {
  const { place, values } = draft;
  const alone = rackAt(before(), place).fresh && cornerAlone(values.leave, data.hand);
  return { ...values, ...place, neighbour_pin: alone ? values.neighbour_pin : "" };
}

function save() {
  if (Date.now() - savedAt < DOUBLE_TAP_MS) return;
  savedAt = Date.now();
  const values = collected();
  if (editing) saveChange(values);
  else saveNew(values);
}

function saveNew(values) {
  const id = newKey();
  const given = Object.entries(values).filter(
    ([name, value]) => name !== "shot" && value !== null && value !== "" && value !== false,
  );
  const shot = nextNumber();
  lastSaved = { id, shot };
  outbox.log(id, { shot, ...Object.fromEntries(given) });
  begin();
  say(`Shot ${shot} is kept on this phone.`, true);
  window.scrollTo({ top: 0 });
}

function saveChange(values) {
  const row = shotsNow().find((shot) => shot.id === editing);
  const changed = Object.entries(values).filter(([name, value]) => name !== "shot" && row[name] !== value);
  if (changed.length) outbox.change(row.id, row.version, Object.fromEntries(changed));
  lastSaved = { id: row.id, shot: row.shot, change: true };
  begin();
  say(changed.length ? `Shot ${row.shot} is changed on this phone.` : `Shot ${row.shot} stays as it was.`);
}

function edit(row) {
  if (!editing) aside = draft;
  editing = row.id;
  draft = draftOf(row);
  say("");
  render();
  window.scrollTo({ top: 0 });
  at("changing-words").focus();
}

function remove(row) {
  outbox.delete(row.id, row.version);
  rows.delete(row.id);
  begin();
  say(`Shot ${row.shot} is deleted.`);
}

// Take the last shot back into the form, to be put right and saved again.
function undo() {
  const row = shotsNow().find((shot) => shot.id === lastSaved?.id);
  if (!row) return;
  remove(row);
  draft = { ...draftOf(row), placed: true };
  say(`Shot ${row.shot} is taken back; put it right and save it again.`);
  touched();
}

function begin() {
  draft = editing && aside ? aside : freshDraft();
  if (!draft.placed) draft.place = freshDraft().place;
  editing = aside = null;
  touched();
}

// --- The page.

function say(words, undoable = false) {
  const status = at("status");
  status.textContent = words;
  if (!undoable) return;
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "button quiet undo", textContent: "Undo" });
  button.addEventListener("click", undo);
  status.append(" ", button);
}

function press(button, on) {
  button.setAttribute("aria-pressed", String(on));
}

function text(value) {
  return value === null || value === undefined ? "" : String(value);
}

function render() {
  const shots = before();
  const rack = rackAt(shots, draft.place);
  const row = editing && shotsNow().find((shot) => shot.id === editing);
  at("changing").hidden = !editing;
  if (editing) at("changing-words").textContent = `Changing shot ${row.shot}`;
  at("save").textContent = editing ? `Save shot ${row.shot}` : `Save shot ${nextNumber()}`;
  renderPlace(rack);
  for (const stepper of steppers) renderStepper(stepper, shots, rack);
  // A spare is aimed at pins: its boards are one tap further away.
  if (rack.fresh) at("leave-field").before(at("watched"));
  else at("unwatched").before(at("watched"));
  renderLeave(rack);
  for (const group of document.querySelectorAll("[data-choice]")) {
    const value = draft.values[group.dataset.choice];
    for (const button of group.querySelectorAll("[data-value]")) press(button, button.dataset.value === value);
  }
  at("miss").hidden = draft.values.throw !== "off";
  press(at("foul"), draft.values.foul);
  for (const button of at("balls").children) press(button, button.textContent === draft.values.ball);
  if (document.activeElement !== at("note")) at("note").value = draft.values.note;
  renderLast();
  live.render();
}

function renderPlace(rack) {
  const { game, frame, delivery, lane } = draft.place;
  const words = [];
  if (frame !== null) words.push(`game ${game ?? 1}`, `frame ${frame}`);
  else if (rack.fresh) words.push("full rack");
  if (delivery > 1) words.push(`ball ${delivery}`);
  if (lane !== null) words.push(`lane ${lane}`);
  at("place-words").textContent = words.join(", ");
  for (const button of at("mode").children) press(button, (button.dataset.mode === "games") === (frame !== null));
  for (const button of at("lanes").children) press(button, Number(button.textContent) === lane);
  for (const box of document.querySelectorAll("[data-games]")) box.hidden = frame === null;
  for (const input of document.querySelectorAll("[data-place]")) {
    if (document.activeElement !== input) input.value = text(draft.place[input.dataset.place]);
  }
}

function renderStepper(stepper, shots, rack) {
  const name = stepper.dataset.field;
  const label = data.columns[name].label;
  const value = draft.values[name];
  const last = lastValue(name, shots, rack.fresh);
  const [box, open, toggle] = ["[data-value]", "[data-open]", "[data-toggle]"].map((s) => stepper.querySelector(s));
  box.textContent = text(value ?? last) || "–";
  stepper.classList.toggle("seen", value !== null);
  open.setAttribute("aria-label", value === null ? `${label}: not seen. Type a value` : `${label}: ${value}. Type another`);
  stepper.querySelector("[data-last]").textContent = last === null ? "" : `last ${last}`;
  toggle.textContent = value === null ? "same" : noneWord(name);
  toggle.setAttribute("aria-label", `${label}: ${value === null ? "same as last" : noneWord(name)}`);
  toggle.disabled = value === null && last === null;
}

function noneWord(name) {
  return STICKY.includes(name) ? "clear" : "not seen";
}

function renderLeave(rack) {
  const { leave } = draft.values;
  const standing = standingAfter(leave, rack.standing) ?? [];
  for (const button of at("pins").querySelectorAll("[data-pin]")) {
    const pin = Number(button.dataset.pin);
    button.disabled = !rack.standing.includes(pin);
    button.setAttribute("aria-label", button.disabled ? `Pin ${pin}, down before` : `Pin ${pin} stands`);
    press(button, standing.includes(pin));
  }
  const down = rack.fresh ? "X" : "/";
  at("all-down").textContent = down;
  at("all-down").setAttribute("aria-label", rack.fresh ? "Strike" : "Spare");
  press(at("all-down"), leave === down);
  at("none-down").textContent = "none fell";
  press(at("none-down"), leave === "0");
  at("no-leave").disabled = leave === "";
  at("leave-words").textContent =
    { X: "strike", "/": "spare", 0: "nothing fell", "": "not recorded" }[leave] ?? leave;
  const corner = rack.fresh ? cornerAlone(leave, data.hand) : null;
  at("neighbour-field").hidden = corner === null;
  if (corner !== null) at("neighbour-words").textContent = `The ${corner} stands: how did the ${besideCorner(corner)} go?`;
}

function renderLast() {
  const shots = shotsNow();
  at("last-box").hidden = shots.length === 0;
  at("last-shots").replaceChildren(...shots.slice(-LISTED).reverse().map(lastShot));
}

function lastShot(row) {
  const item = document.createElement("li");
  const words = document.createElement("span");
  const number = document.createElement("strong");
  number.textContent = row.shot;
  words.append(number, ` ${summary(row)}`);
  item.append(words);
  const buttons = document.createElement("span");
  buttons.className = "button-row";
  if (row.refused) {
    const why = document.createElement("span");
    why.className = "error small";
    why.textContent = refusal(row.refused, data.columns);
    item.append(why);
    buttons.append(
      action("Drop", `Drop shot ${row.shot}`, () => {
        outbox.drop(row.id);
        begin();
      }),
    );
  } else if (row.waiting) {
    const tag = document.createElement("span");
    tag.className = "tag watch";
    tag.textContent = "waits";
    buttons.append(tag);
  }
  buttons.append(action("Change", `Change shot ${row.shot}`, () => edit(row)));
  item.append(buttons);
  return item;
}

function action(word, label, act) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "button", textContent: word });
  button.setAttribute("aria-label", label);
  button.addEventListener("click", act);
  return button;
}

function summary(row) {
  const boards = ["laydown", "arrows", "head_pin", "deck_exit"].map((name) => row[name]).filter((b) => b !== null);
  const missed = row.throw === "off" ? `missed ${row.miss}`.trim() : row.throw;
  const frame = row.frame === null ? "" : `frame ${row.frame}${row.delivery > 1 ? `, ball ${row.delivery}` : ""}`;
  const leave = /^[1-9]/.test(row.leave) ? `leave ${row.leave}` : row.leave; // a bare 10 reads like a board
  return [frame, row.ball, boards.join(" → "), row.foul ? "foul" : "", leave, missed].filter(Boolean).join(" · ");
}

function renderQueue() {
  const count = outbox.waiting.length;
  const stuck = count > 0 && (!navigator.onLine || outbox.failures > 0);
  at("queue").hidden = !stuck;
  at("queue").textContent = stuck ? `${count} ${count === 1 ? "shot waits" : "shots wait"} for the network.` : "";
}

// --- Events.

for (const stepper of steppers) {
  const name = stepper.dataset.field;
  const column = data.columns[name];
  const base = () => draft.values[name] ?? lastValue(name, before(), rackAt(before(), draft.place).fresh);
  const pad = () =>
    openPad({ ...column, now: text(base()), none: noneWord(name), take: (value) => set(name, value) });
  stepper.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if ("open" in button.dataset || (button.dataset.by && base() === null)) return pad();
    if ("toggle" in button.dataset) return set(name, draft.values[name] === null ? base() : null);
    const moved = base() + Number(button.dataset.by) * Number(stepper.dataset.step);
    set(name, Math.min(Math.max(Math.round(moved * 100) / 100, column.low), column.high));
  });
}

for (const group of document.querySelectorAll("[data-choice]")) {
  group.addEventListener("click", (event) => {
    const button = event.target.closest("[data-value]");
    const name = group.dataset.choice;
    if (button) set(name, draft.values[name] === button.dataset.value ? "" : button.dataset.value);
  });
}

at("pins").addEventListener("click", (event) => {
  const button = event.target.closest("[data-pin]");
  if (!button) return;
  const pin = Number(button.dataset.pin);
  const rack = rackAt(before(), draft.place).standing;
  const standing = standingAfter(draft.values.leave, rack) ?? [];
  const now = standing.includes(pin) ? standing.filter((p) => p !== pin) : [...standing, pin];
  set("leave", leaveOf(now, rack));
});
at("all-down").addEventListener("click", () => set("leave", at("all-down").textContent));
at("none-down").addEventListener("click", () => set("leave", "0"));
at("no-leave").addEventListener("click", () => set("leave", ""));
at("foul").addEventListener("click", () => set("foul", !draft.values.foul));
at("note").addEventListener("input", () => set("note", at("note").value));

at("mode").addEventListener("click", (event) => {
  const button = event.target.closest("[data-mode]");
  if (!button) return;
  keep(MODE, button.dataset.mode);
  setPlace(nextPlace(before(), { games: button.dataset.mode === "games", lanes: data.lanes }));
});
for (const input of document.querySelectorAll("[data-place]")) {
  input.addEventListener("change", () => {
    const name = input.dataset.place;
    const { low, high } = data.columns[name];
    const number = Number(input.value);
    const fits = Number.isInteger(number) && number >= low && number <= high;
    if (fits) setPlace({ [name]: number });
    input.value = text(draft.place[name]);
  });
}

function pickers(box, labels, take) {
  const buttons = labels.map((label) => {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "button pick", textContent: label });
    button.addEventListener("click", () => take(label));
    return button;
  });
  box.replaceChildren(...buttons);
}
pickers(at("balls"), data.balls.map((ball) => ball.label), (label) =>
  set("ball", draft.values.ball === label ? "" : label),
);
pickers(at("lanes"), data.lanes, (lane) => setPlace({ lane }));
at("ball-field").hidden = data.balls.length === 0;
at("lanes-field").hidden = data.lanes.length < 2;
for (const [name, field] of [["throw", "throw-field"], ["leave", "leave-field"]]) {
  if (!data.watch.includes(name)) at("more").append(at(field));
}

at("shot").addEventListener("submit", (event) => {
  event.preventDefault();
  save();
});
at("cancel").addEventListener("click", begin);
at("delete").addEventListener("click", () => remove(shotsNow().find((shot) => shot.id === editing)));

outbox.addEventListener("change", () => {
  renderQueue();
  render();
});
outbox.addEventListener("saved", ({ detail: { entry, row } }) => {
  if (row) rows.set(row.id, row);
  else rows.delete(entry.id);
  if (row && lastSaved?.id === row.id && entry.kind !== "delete") {
    const moved = entry.kind === "log" && row.shot !== entry.values.shot;
    const words = moved
      ? `Shot ${row.shot} saved; number ${entry.values.shot} was taken meanwhile.`
      : `Shot ${row.shot} saved.`;
    say(words, !lastSaved.change);
  }
  if (outbox.waiting.length === 0) live.ask(); // with several on their way, after the last
  render();
});
outbox.addEventListener("refused", ({ detail: { entry } }) => {
  say(refusal(entry.refused, data.columns));
  render();
});
outbox.addEventListener("stale", ({ detail: { entry, current } }) => {
  if (current.deleted) rows.delete(entry.id);
  else rows.set(entry.id, current);
  if (editing === entry.id) begin();
  say(`Shot ${current.shot} was changed somewhere else meanwhile. Your change was not saved; look at it and change it again.`);
  render();
});
outbox.addEventListener("signedout", () => {
  say("You are logged out. The shots stay on this phone; ");
  const link = document.createElement("a");
  link.href = data.login_url;
  link.textContent = "log in again to send them.";
  at("status").append(link);
});
for (const name of ["online", "offline"]) window.addEventListener(name, renderQueue);

const waiting = kept(DRAFT);
draft = waiting ?? freshDraft();
if (waiting && !waiting.placed) draft.place = freshDraft().place;
render();
renderQueue();
if (rows.size) live.ask();
outbox.send();
