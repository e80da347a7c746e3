// What the shots so far say, asked for anew after each that was saved. Without a network the last
// answer stays, with the shot up to which it holds; it is kept in this browser for a reload.

import { keep, kept } from "./outbox.js";

const TIMEOUT_MS = 10000;
const MOST_OPTIONS = 3;
const percent = (share) => Math.round(100 * share);
const at = (id) => document.getElementById(id);

function made(tag, className, words) {
  return Object.assign(document.createElement(tag), { className, textContent: words });
}

export class LiveRead {
  // `lastShot` tells the number of the last shot on this phone, sent or not.
  constructor(session, lastShot) {
    this.session = session;
    this.lastShot = lastShot;
    this.name = `live:${session}`;
    this.read = kept(this.name);
    this.failed = false;
    window.addEventListener("online", () => this.ask());
    window.addEventListener("offline", () => this.render());
  }

  // One question at a time; what was saved meanwhile is asked for right after.
  async ask() {
    if (this.asking) {
      this.again = true;
      return;
    }
    this.asking = true;
    this.again = false;
    this.render();
    try {
      const response = await fetch(`/api/sessions/${this.session}/live`, { signal: AbortSignal.timeout(TIMEOUT_MS) });
      this.failed = !response.ok;
      if (response.ok) {
        this.read = await response.json();
        keep(this.name, this.read);
      }
    } catch {
      this.failed = true; // no network: the answer of before stands
    }
    this.asking = false;
    this.render();
    if (this.again) this.ask();
  }

  render() {
    const { read } = this;
    const last = this.lastShot();
    at("live-box").hidden = at("live-bar").hidden = !read || last === 0;
    if (!read || last === 0) return;
    const known = read.as_of_shot !== null;
    const verdict = known ? read.verdict.headline : "Too little to read yet";
    at("live-line").textContent = known ? `As of shot ${read.as_of_shot}: ${verdict}` : verdict;
    at("live-when").textContent = this.when(known, last);
    at("live-headline").textContent = verdict;
    at("live-why").textContent = known ? read.verdict.why : read.missing.join(" ");
    at("live-said").textContent = read.said ?? "";
    const rows = read.options.map(optionRow);
    at("live-options").replaceChildren(...rows.slice(0, MOST_OPTIONS));
    at("live-more-options").replaceChildren(...rows.slice(MOST_OPTIONS));
    at("live-more").hidden = rows.length <= MOST_OPTIONS;
    at("live-more-words").textContent = `${rows.length - MOST_OPTIONS} more`;
    at("live-best").hidden = read.options.length === 0;
  }

  when(known, last) {
    const words = [known ? `As of shot ${this.read.as_of_shot}` : "No read yet"];
    if (known && last > this.read.as_of_shot) {
      const why = !navigator.onLine || this.failed ? "not read yet, for want of a network" : "being read";
      words.push(`shot ${last} is ${why}`);
    }
    return `${words.join("; ")}.`;
  }
}

function optionRow(option, place) {
  const item = document.createElement("li");
  const box = made("div", "row-text", "");
  const [low, high] = option.strike_interval.map(percent);
  box.append(
    made("strong", "", option.title),
    made("div", "small", `strike ${percent(option.strike)} %, likely ${low} to ${high} %`),
  );
  // How long and what to watch come with the first option alone.
  for (const told of [option.watch, option.holds]) if (told) box.append(made("p", "small", told.words));
  const { rule, caution } = option.detail;
  if (rule) box.append(made("p", "small", rule));
  const more = document.createElement("details");
  more.className = "small";
  more.append(made("summary", "", "Why"), made("p", "", option.why));
  if (caution) more.append(made("p", "", caution));
  box.append(more);
  item.append(box);
  if (place === 0) item.append(made("span", "tag good", "best now"));
  else if (option.tied) item.append(made("span", "tag", "as good"));
  return item;
}
