// On every page about sessions: send what still waits in this browser, and say so.
import { Outbox, sessionsWaiting } from "./outbox.js";

const note = document.getElementById("waiting");
const boxes = sessionsWaiting().map((session) => new Outbox(session));

function tell() {
  const count = boxes.reduce((sum, box) => sum + box.entries.length, 0);
  note.hidden = count === 0;
  note.textContent =
    count === 0
      ? ""
      : `${count} ${count === 1 ? "shot waits" : "shots wait"} in this browser for the network. Nothing is lost; open the shot log to see ${count === 1 ? "it" : "them"}.`;
}

for (const box of boxes) {
  box.addEventListener("change", tell);
  box.send();
}
tell();
