// Shots on their way to the server. Each gets its key here, is kept in this browser first and sent
// afterwards, in order; the key makes sending it twice harmless, so nothing is lost and nothing
// doubled by a dead network, a reload or a second tap.

const PREFIX = "shots:";
const RETRY_MS = [2000, 5000, 15000, 30000];
const TIMEOUT_MS = 15000;
const memory = new Map(); // where a browser keeps nothing, at least until the page is closed

export function newKey() {
  if (crypto.randomUUID) return crypto.randomUUID();
  // Over plain http a browser offers only the random bytes (RFC 9562, version 4).
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

export function keep(name, value) {
  memory.set(name, value);
  try {
    if (value === null) localStorage.removeItem(name);
    else localStorage.setItem(name, JSON.stringify(value));
  } catch {
    // Full or forbidden: the copy in memory serves.
  }
}

export function kept(name) {
  try {
    const text = localStorage.getItem(name);
    return text === null ? null : JSON.parse(text);
  } catch {
    return memory.get(name) ?? null;
  }
}

export function sessionsWaiting() {
  try {
    return Object.keys(localStorage)
      .filter((name) => name.startsWith(PREFIX))
      .map((name) => name.slice(PREFIX.length));
  } catch {
    return [];
  }
}

function csrfToken() {
  return /(?:^|; )csrftoken=([^;]+)/.exec(document.cookie)?.[1] ?? "";
}

// Events: "change" whenever what waits has changed; "saved" {entry, row}; "refused" {entry};
// "stale" {entry, current}; "signedout".
export class Outbox extends EventTarget {
  constructor(session) {
    super();
    this.session = session;
    this.sending = false;
    this.failures = 0;
    window.addEventListener("online", () => this.send());
    window.addEventListener("storage", (event) => {
      if (event.key === PREFIX + session) this.tell("change");
    });
  }

  get entries() {
    return kept(PREFIX + this.session) ?? [];
  }

  get waiting() {
    return this.entries.filter((entry) => !entry.refused);
  }

  log(id, values) {
    this.update((entries) => [...entries, { n: newKey(), kind: "log", id, values }]);
    this.send();
  }

  change(id, version, values) {
    this.update((entries) => {
      const open = entries.find((e) => e.id === id && e.kind !== "delete" && (!e.tried || e.refused));
      if (!open) return [...entries, { n: newKey(), kind: "change", id, version, values }];
      open.values = { ...open.values, ...values };
      delete open.refused;
      return entries;
    });
    this.send();
  }

  delete(id, version) {
    this.update((entries) => {
      const others = entries.filter((e) => e.id !== id);
      const mine = entries.filter((e) => e.id === id);
      const log = mine.find((e) => e.kind === "log");
      // What the server has never seen needs no deleting there.
      if (log && (!log.tried || log.refused)) return others;
      const sent = mine.filter((e) => e.tried && !e.refused);
      return [...others, ...sent, { n: newKey(), kind: "delete", id, version }];
    });
    this.send();
  }

  drop(id) {
    this.update((entries) => entries.filter((e) => e.id !== id || !e.refused));
  }

  update(step) {
    const entries = step(this.entries);
    keep(PREFIX + this.session, entries.length ? entries : null);
    this.tell("change");
  }

  tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  async send() {
    if (this.sending || !navigator.onLine) return;
    this.sending = true;
    clearTimeout(this.timer);
    let failed = false;
    const sendAll = async () => {
      for (let entry = this.next(); entry && !failed; entry = this.next()) {
        failed = !(await this.sendOne(entry));
      }
    };
    try {
      // One page of this browser sends at a time, where the browser can tell (not over plain http).
      if (navigator.locks) await navigator.locks.request(PREFIX + this.session, sendAll);
      else await sendAll();
    } finally {
      this.sending = false;
    }
    this.failures = failed ? this.failures + 1 : 0;
    if (failed) {
      const wait = RETRY_MS[Math.min(this.failures - 1, RETRY_MS.length - 1)];
      this.timer = setTimeout(() => this.send(), wait);
    }
    this.tell("change");
  }

  next() {
    const blocked = new Set(this.entries.filter((e) => e.refused).map((e) => e.id));
    return this.entries.find((e) => !blocked.has(e.id));
  }

  // Send one entry; return whether the next one may follow.
  async sendOne(entry) {
    this.mark(entry, { tried: true });
    let response;
    let answer = null;
    try {
      response = await this.request(entry);
      if (response.status !== 204) answer = await response.json();
    } catch {
      return false; // no network, or an answer that is none
    }
    const gone = response.status === 404 && entry.kind === "delete";
    const done = response.status === 409 && isAlready(answer.current, entry);
    if (response.ok || gone || done) {
      const row = done ? answer.current : entry.kind === "delete" ? null : answer;
      this.settle(entry, row);
      this.tell("saved", { entry, row });
      return true;
    }
    if (response.status === 409) {
      this.update((entries) => entries.filter((e) => e.id !== entry.id));
      this.tell("stale", { entry, current: answer.current });
      return true;
    }
    if (response.status === 400 || response.status === 404) {
      const refused = response.status === 400 ? answer : { session: "The session or the shot is not there any more." };
      this.mark(entry, { refused });
      this.tell("refused", { entry: { ...entry, refused } });
      return true;
    }
    if (response.status === 401 || response.status === 403) this.tell("signedout");
    return false;
  }

  request(entry) {
    const one = `/api/shots/${entry.id}`;
    const [method, address, body] = {
      log: ["POST", `/api/sessions/${this.session}/shots`, { id: entry.id, ...entry.values }],
      change: ["PATCH", one, { version: entry.version, ...entry.values }],
      delete: ["DELETE", `${one}?version=${entry.version}`, null],
    }[entry.kind];
    return fetch(address, {
      method,
      headers: { "Content-Type": "application/json", "X-CSRFToken": csrfToken() },
      body: body && JSON.stringify(body),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
  }

  mark(entry, marks) {
    this.update((entries) => entries.map((e) => (e.n === entry.n ? { ...e, ...marks } : e)));
  }

  // Take an entry out; what else waits for the same shot goes on from its new version.
  settle(entry, row) {
    this.update((entries) =>
      entries
        .filter((e) => e.n !== entry.n)
        .map((e) => (row && e.id === row.id ? { ...e, version: row.version } : e)),
    );
  }
}

// The change went through before and only its answer was lost.
function isAlready(current, { kind, values }) {
  return kind === "change" && !current.deleted && Object.entries(values).every(([name, value]) => current[name] === value);
}
