// A number pad in a sheet at the thumb, for any value that steps do not reach.

const pad = document.getElementById("pad");
const value = document.getElementById("pad-value");
const problem = document.getElementById("pad-error");
let field = null;
let text = "";

// `asked` has name, low, high, expected, now (shown until a key is pressed) and take(number|null).
export function openPad(asked) {
  field = asked;
  text = "";
  document.getElementById("pad-name").textContent = field.label;
  document.getElementById("pad-none").textContent = field.none;
  show();
  pad.showModal();
}

function show(message = "") {
  value.textContent = text || field.now || "–";
  value.classList.toggle("soft", !text);
  problem.textContent = message;
  problem.hidden = !message;
}

function press(key) {
  if (key === "⌫") text = text.slice(0, -1);
  else if (key === "½") text = text.includes(".") ? text : `${text || "0"}.5`;
  else if (key === ".") text = text.includes(".") ? text : `${text || "0"}.`;
  else if (text.length < 5) text = text === "0" ? key : text + key;
  show();
}

function ok() {
  if (!text) return pad.close();
  const number = Number(text);
  if (number < field.low || number > field.high) return show(`Expected ${field.expected}.`);
  field.take(number);
  pad.close();
}

pad.addEventListener("click", (event) => {
  const key = event.target.closest("[data-key]");
  if (key) press(key.dataset.key);
  else if (event.target === pad) pad.close(); // beside the sheet
});
document.getElementById("pad-ok").addEventListener("click", ok);
document.getElementById("pad-none").addEventListener("click", () => {
  field.take(null);
  pad.close();
});
pad.addEventListener("keydown", (event) => {
  const key = { Backspace: "⌫", ",": ".", Decimal: "." }[event.key] ?? event.key;
  if (/^[0-9.⌫]$/.test(key)) press(key);
  else if (event.key === "Enter" && !event.target.matches("[data-key], #pad-none")) ok();
  else return;
  event.preventDefault();
});
