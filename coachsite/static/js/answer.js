// The student's answer: kept on the phone until the site has it, whatever the network does.

const form = document.getElementById("answer");
const text = form.elements.text;
const state = document.getElementById("answer-state");
const button = form.querySelector("button");
const place = `answer:${form.dataset.user}:${form.dataset.report}`;

function kept() {
  try {
    return JSON.parse(localStorage.getItem(place));
  } catch {
    return null; // storage is off or holds something else; the page works without
  }
}

function keep() {
  try {
    if (text.value.trim()) localStorage.setItem(place, JSON.stringify({ key: form.elements.key.value, text: text.value }));
    else localStorage.removeItem(place);
  } catch {
    // Private windows may refuse; the words are still on the page.
  }
}

function forget() {
  try {
    localStorage.removeItem(place);
  } catch {
    // Nothing was kept then.
  }
}

const plain = (words) => words.replace(/\s+/g, " ").trim();

const draft = kept();
if (draft) {
  const sent = [...document.querySelectorAll("[data-own-answer] p")].some((one) => plain(one.innerText) === plain(draft.text));
  if (sent) {
    forget();
  } else if (!text.value) {
    text.value = draft.text;
    // The same key again: should an earlier try have got through unseen, this one adds nothing.
    form.elements.key.value = draft.key;
    state.textContent = "Your words from before are still here; they are not sent yet.";
  }
}
text.addEventListener("input", keep);

let sending = false;
async function send() {
  if (sending) return;
  sending = true;
  button.disabled = true;
  state.textContent = "Sending…";
  keep();
  try {
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form), redirect: "manual" });
    if (answer.type === "opaqueredirect") {
      // Either it is kept, and the page lists it, or a log-in is due, and the words wait here.
      // A page that came back with a complaint is left, for a reload would send its form again.
      if (location.pathname === form.dataset.page) location.reload();
      else location.replace(form.dataset.page);
      return;
    }
    // The site has something to say about it, and its page keeps the words.
    sending = false;
    form.submit();
  } catch {
    sending = false;
    button.disabled = false;
    state.textContent = "No network. Your words are kept on this phone and are sent when it is back.";
    addEventListener("online", send, { once: true });
  }
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  send();
});
