// The shot log at a desk: a grid of plain inputs. Arrows, Enter and Tab move; a row is saved when
// it is left, through the same outbox as the phone's shots. The next shot's row has the cursor.

import { Outbox, newKey } from "./outbox.js";
import { nextPlace, rackAt } from "./rack.js";
import { emptyShot, refusal, shotsWith, usualBall } from "./shot_rows.js";

const data = JSON.parse(document.getElementById("log-data").textContent);
const outbox = new Outbox(data.session);
const rows = new Map(data.shots.map((row) => [row.id, row]));
const body = document.getElementById("rows");
const status = document.getElementById("status");
const EMPTY = emptyShot(data.columns);
const WIDE = ["ball", "note", "leave", "neighbour_pin"];
const PLACE = ["game", "frame", "delivery", "lane"];
// The column where Tab set out, to which Enter comes back a row further down; null while none is.
let setOut = null;

function shotsNow() {
  return shotsWith(rows, outbox.entries, data.columns);
}

function shotOf(id) {
  return shotsNow().find((shot) => shot.id === id);
}

function shown(value) {
  if (value === true) return "yes";
  return value === null || value === undefined || value === false ? "" : String(value);
}

// What was typed, as the API takes it: numbers as numbers, the rest as it stands. The server judges.
function typed(name, text) {
  const { kind, choices } = data.columns[name];
  const plain = text.trim();
  if (["WHOLE", "BOARD", "NUMBER"].includes(kind)) {
    if (plain === "") return name === "delivery" ? 1 : null;
    const number = Number(plain.replace(",", "."));
    return Number.isNaN(number) ? plain : number;
  }
  if (kind === "CHOICE") {
    const fitting = choices.filter((choice) => plain && choice.startsWith(plain.toLowerCase()));
    return choices.includes(plain) || fitting.length !== 1 ? plain : fitting[0];
  }
  if (kind === "YES_NO") return /^y(es)?$/i.test(plain) ? true : plain === "" || /^no?$/i.test(plain) ? false : plain;
  return plain;
}

function makeRow(id) {
  const line = document.createElement("tr");
  line.dataset.id = id;
  for (const name of data.shown) {
    const cell = document.createElement(name === "shot" ? "th" : "td");
    if (name === "shot") cell.scope = "row";
    if (WIDE.includes(name)) cell.dataset.wide = "";
    const input = document.createElement("input");
    Object.assign(input, { type: "text", autocomplete: "off", spellcheck: false });
    input.dataset.column = name;
    if (data.columns[name].low !== data.columns[name].high) input.inputMode = "decimal";
    cell.append(input);
    line.append(cell);
  }
  const state = document.createElement("td");
  state.className = "row-state";
  line.append(state);
  return line;
}

function inputsOf(line) {
  return [...line.querySelectorAll("input")];
}

function fill(line, shot) {
  for (const input of inputsOf(line)) {
    const name = input.dataset.column;
    const label = data.columns[name].label;
    input.setAttribute("aria-label", shot.shot ? `Shot ${shot.shot}, ${label}` : `New shot, ${label}`);
    if (input !== document.activeElement || !input.dataset.typed) {
      input.value = shown(shot[name]);
      delete input.dataset.typed;
    }
    tellCell(input, shot.refused?.[name]);
  }
  tellRow(line, shot);
}

function tellCell(input, messages) {
  input.parentElement.querySelector(".error")?.remove();
  input.removeAttribute("aria-invalid");
  input.removeAttribute("aria-describedby");
  if (!messages) return;
  const error = document.createElement("p");
  error.className = "error";
  error.id = `error-${input.closest("tr").dataset.id}-${input.dataset.column}`;
  error.textContent = [messages].flat().join(" ");
  input.after(error);
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", error.id);
}

function tellRow(line, shot) {
  const state = line.lastElementChild;
  const known = rows.has(shot.id) || shot.waiting;
  line.dataset.state = !known ? "new" : shot.waiting ? "waits" : "saved";
  state.replaceChildren();
  if (!known) return;
  if (shot.refused) state.append(unplaced(shot.refused));
  else if (shot.waiting) state.append(navigator.onLine ? "saving…" : "waits for the network");
  const remove = document.createElement("button");
  Object.assign(remove, { type: "button", className: "button", textContent: "Delete" });
  remove.setAttribute("aria-label", `Delete shot ${shot.shot}`);
  remove.addEventListener("click", () => removeRow(line));
  state.append(" ", remove);
}

// Messages that have no cell here are told at the end of the row.
function unplaced(refused) {
  const others = Object.entries(refused).filter(([name]) => !data.shown.includes(name));
  return others.length ? refusal(Object.fromEntries(others), data.columns) : "not saved";
}

function removeRow(line) {
  const shot = shotOf(line.dataset.id);
  const neighbour = line.nextElementSibling ?? line.previousElementSibling;
  outbox.delete(shot.id, shot.version);
  rows.delete(shot.id);
  line.remove();
  status.textContent = `Shot ${shot.shot} is deleted.`;
  neighbour?.querySelector("input")?.focus();
}

function addNewRow() {
  const line = makeRow(newKey());
  body.append(line);
  prepare(line);
}

// Give the row at the end the number, the place and the ball that come next.
function prepare(line) {
  const shots = shotsNow();
  const games = shots.at(-1) ? shots.at(-1).frame !== null : data.competition;
  const place = nextPlace(shots, { games, lanes: data.lanes });
  const ready = { ...place, ball: usualBall(shots, rackAt(shots, place), data.balls) };
  fill(line, { ...EMPTY, ...ready, id: line.dataset.id, shot: null });
  line.querySelector("input").placeholder = (shots.at(-1)?.shot ?? 0) + 1;
  for (const [name, value] of Object.entries(ready)) line.dataset[name] = shown(value);
}

function isTyped(line) {
  return inputsOf(line).some((input) => input.dataset.typed);
}

function saveRow(line) {
  if (!isTyped(line)) return;
  const id = line.dataset.id;
  const before = shotOf(id);
  const cells = inputsOf(line).map((input) => [input.dataset.column, typed(input.dataset.column, input.value)]);
  for (const input of inputsOf(line)) delete input.dataset.typed;
  if (before) {
    const changed = cells.filter(([name, value]) => value !== before[name]);
    if (changed.length) outbox.change(id, before.version, Object.fromEntries(changed));
    return;
  }
  const given = Object.fromEntries(cells.filter(([, value]) => value !== null && value !== "" && value !== false));
  const last = shotsNow().at(-1)?.shot ?? 0;
  outbox.log(id, { shot: last + 1, ...given });
}

function renderAll() {
  for (const shot of shotsNow()) {
    const line = body.querySelector(`[data-id="${shot.id}"]`);
    if (line) fill(line, shot);
  }
  if (!isTyped(body.lastElementChild)) prepare(body.lastElementChild);
}

function columnOf(input) {
  return inputsOf(input.closest("tr")).indexOf(input);
}

function move(input, rowsDown, cellsRight, from = columnOf(input)) {
  const line = input.closest("tr");
  const target = rowsDown ? (rowsDown > 0 ? line.nextElementSibling : line.previousElementSibling) : line;
  const next = target && inputsOf(target)[from + cellsRight];
  if (!next) return false;
  next.focus();
  next.select();
  return true;
}

body.addEventListener("input", ({ target }) => {
  target.dataset.typed = "yes";
  const line = target.closest("tr");
  if (line === body.lastElementChild) addNewRow();
});
body.addEventListener("focusout", ({ target, relatedTarget }) => {
  const line = target.closest("tr");
  if (line && !line.contains(relatedTarget)) saveRow(line);
});
body.addEventListener("keydown", (event) => {
  const input = event.target.closest("input");
  if (!input || event.altKey || event.ctrlKey || event.metaKey) return;
  const { selectionStart, selectionEnd, value } = input;
  const whole = selectionStart === 0 && selectionEnd === value.length;
  const moves = {
    ArrowDown: () => move(input, 1, 0),
    Enter: () => move(input, event.shiftKey ? -1 : 1, 0, setOut ?? undefined),
    ArrowUp: () => move(input, -1, 0),
    ArrowLeft: () => (whole || selectionEnd === 0) && move(input, 0, -1),
    ArrowRight: () => (whole || selectionStart === value.length) && move(input, 0, 1),
    Escape: () => restore(input),
  };
  if (event.key === "Tab" && !event.shiftKey) setOut ??= columnOf(input);
  else if (moves[event.key]?.()) {
    setOut = null;
    event.preventDefault();
  }
});
body.addEventListener("pointerdown", () => (setOut = null));

function restore(input) {
  const line = input.closest("tr");
  const shot = shotOf(line.dataset.id);
  input.value = shown(shot ? shot[input.dataset.column] : line.dataset[input.dataset.column]);
  delete input.dataset.typed;
  return true;
}

outbox.addEventListener("saved", ({ detail: { entry, row } }) => {
  if (!row) return rows.delete(entry.id);
  rows.set(row.id, row);
  status.textContent = `Shot ${row.shot} saved.`;
});
outbox.addEventListener("refused", ({ detail: { entry } }) => {
  status.textContent = refusal(entry.refused, data.columns);
});
outbox.addEventListener("stale", ({ detail: { entry, current } }) => {
  if (current.deleted) {
    rows.delete(entry.id);
    body.querySelector(`[data-id="${entry.id}"]`)?.remove();
  } else rows.set(entry.id, current);
  status.textContent = `Shot ${current.shot} was changed somewhere else meanwhile; your change was not saved. Look at it again.`;
});
outbox.addEventListener("signedout", () => {
  status.textContent = "You are logged out. What you typed stays in this browser; log in again to send it.";
});
outbox.addEventListener("change", renderAll);
window.addEventListener("offline", renderAll);

for (const shot of shotsNow()) {
  const line = makeRow(shot.id);
  body.append(line);
  fill(line, shot);
}
addNewRow();
inputsOf(body.lastElementChild).find((input) => !["shot", "ball", ...PLACE].includes(input.dataset.column))?.focus();
outbox.send();
