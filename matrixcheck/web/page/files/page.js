// What every page has: the queue of entries, the line to the computer, and the words that say how both are.

import { freshId, post } from "./client.js";
import { Line } from "./live.js";
import { localStore, Queue } from "./queue.js";
import { redraw } from "./redraw.js";
import { statusWords } from "./words.js";

const said = document.getElementById("status");
const job = document.body.dataset.job ?? "";
const listeners = { news: [], answer: [], turned: [], changed: [], fresh: [] };

export const queue = new Queue({
  store: localStore(localStorage),
  fresh: freshId,
  async send(entry, signal) {
    const became = await post(entry.path, { ...entry.body, send: entry.id }, signal);
    if (became.kind !== "unanswered") line.hear();
    if (became.kind === "kept") seen = Math.max(seen, became.answer.seq);
    return became;
  },
  changed: () => tell("changed"),
});

export const queues = [queue];

// Count another queue in; it is woken with the first.
export function join(other) {
  queues.push(other);
  tell("changed");
}

// Another queue changed.
export const queueChanged = () => tell("changed");

export const line = new Line({
  job,
  news(seq) {
    const known = seen;
    seen = Math.max(seen, seq);
    // A page that doesn't say what it was drawn from takes the first it hears as that.
    if (known && seq > known) tell("news", seq);
  },
  answer: (number) => tell("answer", number),
  turned(silent) {
    if (!silent) for (const one of queues) one.wake();
    tell("turned", silent);
  },
});

let seen = Number(document.body.dataset.seq || 0);

// Hear of `news` (the job changed), `answer` (there is a better answer, by its number), `fresh` (the page as the computer draws it since), `turned` (the line went silent,
// or is back) and `changed` (the queue).
export function on(what, listener) {
  listeners[what].push(listener);
}

function tell(what, about) {
  for (const listener of listeners[what]) listener(about);
  const count = (name) => queues.reduce((sum, one) => sum + one[name].length, 0);
  const trouble = queues.map((one) => one.trouble).find(Boolean) ?? null;
  said.textContent = statusWords({ silent: line.silent, waiting: count("waiting"), refused: count("refused"), trouble });
  document.body.classList.toggle("-silent", line.silent);
  document.body.classList.toggle("-refused", count("refused") > 0);
}

// The parts of a page that change: each element with an id and `data-live` is drawn anew by the computer.
export async function refresh() {
  const answer = await fetch(location.href, { cache: "no-store" }).catch(() => null);
  if (!answer?.ok) return null;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of document.querySelectorAll("[data-live]")) {
    const now = fresh.getElementById(part.id);
    if (now) redraw(part, now);
  }
  tell("fresh", fresh);
  return fresh;
}

on("news", refresh);
tell("changed");
line.start();
queue.flush();
