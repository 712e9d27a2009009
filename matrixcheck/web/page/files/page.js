// What every page has: the queue of entries, the line to the computer, and the words that say how both are.

import { freshId, outcome, post } from "./client.js";
import { Line } from "./live.js";
import { localStore, Queue } from "./queue.js";
import { fingerLifted, redraw } from "./redraw.js";
import { lineWords, statusWords } from "./words.js";

const said = document.getElementById("status");
const job = document.body.dataset.job ?? "";
const listeners = { news: [], answer: [], turned: [], changed: [], settled: [], fresh: [] };
// The last event of the job that is heard of, and the one that the page was drawn from: 0 where it doesn't say.
let heard = Number(document.body.dataset.seq || 0);
let drawn = heard;
let drawing = null;

const store = localStore(localStorage);

export const queue = new Queue({
  store,
  fresh: freshId,
  async send(entry, signal) {
    const became = await post(entry.path, { ...entry.body, send: entry.id }, signal);
    if (became.kind !== "unanswered") line.hear();
    if (became.kind === "kept") heard = Math.max(heard, became.answer.seq);
    return became;
  },
  changed: () => tell("changed"),
  settled: (entry, became) => tell("settled", { entry, became }),
});

addEventListener("storage", (change) => {
  const id = store.droppedIn(change);
  if (id !== null) queue.droppedElsewhere(id);
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
    heard = Math.max(heard, seq);
    // A page that doesn't say what it was drawn from takes the first it hears as that.
    drawn ||= seq;
    if (seq > drawn) tell("news", seq);
  },
  answer: (number) => tell("answer", number),
  turned(silent) {
    if (silent) askWhy();
    else {
      if (queue.trouble === "stranger" || queue.trouble?.full) queue.trouble = null;
      for (const one of queues) one.wake();
    }
    tell("turned", silent);
  },
});

// A computer that forgot this phone, or that has no room, answers, but opens no line to it.
async function askWhy() {
  const inTime = AbortSignal.timeout(3000);
  const answer = await fetch("/alive", { cache: "no-store", signal: inTime }).catch(() => null);
  if (answer?.status !== 403 && answer?.status !== 503) return;
  const became = outcome(answer.status, await answer.text());
  queue.trouble = became.kind === "stranger" ? "stranger" : became.error ?? null;
  tell("changed");
}

// Hear of `news` (the job changed), `answer` (there is a better answer, by its number), `fresh` (the page as the computer
// draws it since), `turned` (the line went silent, or is back), `changed` (the queue) and `settled` (what became of an
// entry).
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

// Draw the page anew: each element with an id and `data-live`, as the computer draws it now. One drawing is under way at
// a time; what is older than what was heard meanwhile, the wait for a finger to lift included, is fetched again. Gives
// the fresh page, null without an answer.
export function refresh() {
  drawing ??= newest().finally(() => (drawing = null));
  return drawing;
}

async function newest() {
  for (;;) {
    const asked = heard;
    const answer = await fetch(location.href, { cache: "no-store" }).catch(() => null);
    if (!answer?.ok) return null;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const from = Number(fresh.body.dataset.seq || 0);
    await fingerLifted();
    if (from && from < heard && asked < heard) continue;
    drawn = Math.max(drawn, from);
    for (const part of document.querySelectorAll("[data-live]")) {
      const now = fresh.getElementById(part.id);
      if (now) redraw(part, now);
    }
    tell("fresh", fresh);
    return fresh;
  }
}

on("news", refresh);
tell("changed");
line.start();
queue.flush();
