// What was pressed and isn't kept yet, in the order in which it was pressed. Nothing in here knows the page.
//
// The life of an entry:
//
//   waiting -> sending -> kept       it is gone from here; only the computer's answer says so
//                      -> waiting    no answer came: it is sent again under the same id, and kept once
//                      -> refused    it stays in sight until it is fixed or dropped; those behind it go on
//
// One entry is under way at a time, so they arrive in order.

const AGAIN_MS = 1000;
const STUCK_MS = 800;

const wait = (task, milliseconds) => setTimeout(task, milliseconds);

export class Queue {
  // `store` has load(), save(entry), remove(entry) and drop(entry); `send(entry, signal)` gives what became of it, as client.js says.
  constructor({ store, send, fresh, changed = () => {}, settled = () => {}, now = () => performance.now(), later = wait }) {
    this.store = store;
    this.send = send;
    this.fresh = fresh;
    this.changed = changed;
    this.settled = settled;
    this.now = now;
    this.later = later;
    this.trouble = null;
    this.listeners = new Map();
    // What another page of this phone left: it is `adopted`, nobody here listens for it.
    this.entries = store.load().map((entry) => ({
      ...entry, adopted: true, state: entry.state === "refused" ? "refused" : "waiting",
    }));
    this.underWay = null;
    this.again = null;
  }

  get waiting() {
    return this.entries.filter((one) => one.state !== "refused");
  }

  get refused() {
    return this.entries.filter((one) => one.state === "refused");
  }

  // Put an entry at the end. `told(outcome)` hears what became of it, while this page is open. One that is `passing` is
  // dropped where it is refused: an undo with nothing to undo is nothing to fix.
  add({ path, body, words, passing = false }, told = () => {}) {
    const last = this.entries.at(-1)?.order ?? 0;
    const entry = { id: this.fresh(), order: Math.max(Date.now(), last + 1), path, body, words, passing, state: "waiting" };
    this.entries.push(entry);
    entry.safe = this.store.save(entry);
    this.listeners.set(entry.id, told);
    this.changed();
    this.flush();
    return entry;
  }

  // Send what waits, one after the other.
  async flush() {
    if (this.underWay) return;
    for (let entry = this.waiting[0]; entry; entry = this.waiting[0]) {
      const stop = new AbortController();
      this.underWay = { stop, since: this.now() };
      entry.state = "sending";
      this.changed();
      const became = await this.send(entry, stop.signal);
      this.underWay = null;
      if (!this.settle(entry, became)) return;
    }
  }

  // The line is up: what hangs on a dead connection is sent again at once.
  wake() {
    if (this.underWay && this.now() - this.underWay.since > STUCK_MS) this.underWay.stop.abort();
    else this.flush();
  }

  // Drop what waits or was refused, by hand. What is under way can't be dropped any more.
  drop(id) {
    const entry = this.entries.find((one) => one.id === id);
    if (!entry || entry.state === "sending") return;
    this.store.drop(entry);
    this.gone(entry);
  }

  // Another page of this phone dropped an entry. What is under way here can't be dropped any more.
  droppedElsewhere(id) {
    const entry = this.entries.find((one) => one.id === id);
    if (entry && entry.state !== "sending") this.gone(entry);
  }

  gone(entry) {
    this.entries = this.entries.filter((one) => one !== entry);
    this.tell(entry, { kind: "dropped" });
    this.changed();
  }

  // Send a refused entry as it was put right: at the end, as a new one.
  fix(id, body, words) {
    const { path, passing } = this.entries.find((one) => one.id === id);
    this.drop(id);
    return this.add({ path, body, words, passing });
  }

  // Put down what became of an entry; false where it waits for another try.
  settle(entry, became) {
    this.trouble = became.kind === "trouble" ? became.error : became.kind === "stranger" ? "stranger" : null;
    if (became.kind === "kept" || (became.kind === "refused" && entry.passing)) {
      this.entries = this.entries.filter((one) => one !== entry);
      this.store.remove(entry);
    } else if (became.kind === "refused") {
      Object.assign(entry, { state: "refused", error: became.error });
      this.store.save(entry);
    } else {
      entry.state = "waiting";
      this.listeners.get(entry.id)?.(became, entry);
      this.changed();
      clearTimeout(this.again);
      this.again = this.later(() => this.flush(), AGAIN_MS);
      return false;
    }
    this.tell(entry, became);
    this.changed();
    return true;
  }

  tell(entry, became) {
    this.listeners.get(entry.id)?.(became, entry);
    this.listeners.delete(entry.id);
    this.settled(entry, became);
  }
}

// Entries in the browser's own storage, each under a key of its own: two tabs don't write over each other.
export function localStore(storage, prefix = "matrixcheck-entry-") {
  const remove = ({ id }) => {
    try {
      storage.removeItem(prefix + id);
    } catch {
      // Nothing was kept, so nothing is left.
    }
  };
  const keys = () => Object.keys(storage).filter((key) => key.startsWith(prefix));
  return {
    load() {
      try {
        const kept = keys().map((key) => JSON.parse(storage.getItem(key))).filter((one) => one.state !== "dropped");
        return kept.sort((one, other) => one.order - other.order);
      } catch {
        return [];
      }
    },
    save({ state, error, safe, adopted, ...entry }) {
      try {
        const refused = state === "refused" ? { state, error } : {};
        storage.setItem(prefix + entry.id, JSON.stringify({ ...entry, ...refused }));
        return true;
      } catch {
        return false; // No room, or a browser that keeps nothing: it waits in this page alone.
      }
    },
    remove,
    // Other pages are told that it was dropped: what is only gone was kept.
    drop({ id }) {
      try {
        storage.setItem(prefix + id, JSON.stringify({ id, state: "dropped" }));
      } catch {
        // Then it wasn't kept either.
      }
      remove({ id });
    },
    // The id of the entry that another page dropped, from the browser's word of what it changed there; else null.
    droppedIn({ key, newValue }) {
      if (!key?.startsWith(prefix) || newValue === null) return null;
      const { id, state } = JSON.parse(newValue);
      return state === "dropped" ? id : null;
    },
  };
}
