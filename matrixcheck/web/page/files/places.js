// Pages that are read and filled in: each form is an entry of the queue, and what became of it is said below it.

import { on, queue, refresh } from "./page.js";
import { watchGrids } from "./grid.js";
import { comeBack } from "./scroll.js";

const said = document.getElementById("said");
const last = document.getElementById("last");
const undo = document.getElementById("undo-last");

// Say what became of a form; what was kept can be undone right there.
function say(words, { wrong = false, undoable = false } = {}) {
  said.textContent = words;
  last.classList.toggle("-wrong", wrong);
  if (undo) undo.hidden = !undoable;
}

// What a form sends: its fields by name, and the button that was pressed. A field may stand behind what belongs before
// it ("12=" before ohms), and a list's name before the line that is put on it.
function filledIn(form, button) {
  const body = {};
  for (const field of form.elements) {
    if (!field.name || field.type === "submit") continue;
    if (field.type === "checkbox") body[field.name] = field.checked;
    else if (field.type === "radio") field.checked && (body[field.name] = field.value);
    else body[field.name] = `${field.dataset.before ?? ""}${field.value.trim()}`;
  }
  const list = form.querySelector("[data-joins]");
  if (list) {
    body[list.dataset.joins] = `${body[list.name]}: ${body[list.dataset.joins]}`;
    delete body[list.name];
  }
  if (button?.name) body[button.name] = button.value;
  return body;
}

// Once it is kept, a form is ready for the next entry; one that edits goes on from what was kept.
function settle(form) {
  if (!form.matches("[data-clears], [data-keeps]")) form.reset();
  for (const field of form.elements) {
    if (form.matches("[data-keeps]")) field.defaultValue = field.value;
    else if (form.matches("[data-clears]") && ["text", "textarea"].includes(field.type)) field.value = "";
    else if (form.matches("[data-clears]") && field.type === "checkbox") field.checked = false;
  }
}

// Open the line below the one that was judged.
function ontoNext(id) {
  const here = document.getElementById(id);
  let next = here?.nextElementSibling;
  while (next && !next.matches("details.line")) next = next.nextElementSibling;
  if (here) here.open = false;
  if (next) {
    next.open = true;
    next.querySelector("summary").focus();
  }
}

async function kept(form, line, answer) {
  const { onward } = answer.kept[0] ?? {};
  if (onward) {
    location.href = onward;
    return;
  }
  say(answer.words, { undoable: form !== undo && !form.dataset.post.endsWith("/redo") });
  settle(form);
  if (form.matches("[data-goes-back]")) {
    history.length > 1 ? history.back() : location.assign(document.querySelector(".back").href);
    return;
  }
  await refresh();
  if (form.matches("[data-onto-next]") && !answer.words.includes("FAILED")) ontoNext(line);
}

function send(form, button) {
  const line = form.closest("details.line")?.id;
  const body = filledIn(form, button);
  button?.classList.add("-pressed");
  say("sending …");
  const words = [form.dataset.words, body.note].filter(Boolean).join(": ");
  queue.add({ path: form.dataset.post, body, words }, (became, entry) => {
    button?.classList.remove("-pressed");
    if (became.kind === "kept") kept(form, line, became.answer);
    else if (became.kind === "refused") {
      // It is put right here, where it was filled in; elsewhere it would wait in the sheet.
      queue.drop(entry.id);
      say(`! ${became.error.what}${became.error.hint ? `: ${became.error.hint}` : ""}`, { wrong: true });
    } else say(`not kept yet: ${words}. It is sent as soon as the computer answers.`, { wrong: true });
  });
}

document.addEventListener("submit", (event) => {
  if (!event.target.matches("form[data-post]")) return;
  event.preventDefault();
  send(event.target, event.submitter);
});

// A place at hand fills in the name; what the name means is asked of the computer while it is typed.
const what = document.getElementById("what");
document.addEventListener("click", (event) => {
  const place = event.target.closest("[data-fills]");
  if (!place) return;
  what.value = place.value;
  ask();
  document.getElementById("did").focus();
});

let asked = 0;
async function ask() {
  const number = ++asked;
  const outside = document.getElementById("outside").checked;
  const query = new URLSearchParams({ what: what.value.trim(), ...(outside ? { outside: "1" } : {}) });
  const answer = await fetch(`${location.pathname}?${query}`, { cache: "no-store" }).catch(() => null);
  if (!answer?.ok || number !== asked) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  const meant = document.getElementById("meant");
  meant.replaceWith(fresh.getElementById("meant"));
  const did = document.getElementById("did");
  if (!did.value || did.value === did.dataset.usual) did.value = fresh.getElementById("did").value;
  did.dataset.usual = fresh.getElementById("did").value;
}
what?.addEventListener("input", ask);
document.getElementById("outside")?.addEventListener("change", ask);

// One drawing may be under way that began before the better answer was there.
on("answer", async (number) => {
  const older = () => [...document.querySelectorAll("[data-answer]")].some((one) => Number(one.dataset.answer) < number);
  if (older()) await refresh();
  if (older()) await refresh();
});
watchGrids();
comeBack();
for (const [form, button] of window.sentEarly.filter(([one]) => one.matches("form[data-post]"))) send(form, button);
window.sentEarly = null;
