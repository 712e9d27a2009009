// Photos on a page: take or choose one, see what became of it, take it back.

import { queue } from "./page.js";
import { photoQueue } from "./photo_queue.js";
import { shrunk } from "./shrink.js";

const MOST_WAITING = 20;

function say(form, words, alert = false) {
  const said = form.querySelector(".became");
  said.textContent = words;
  said.classList.toggle("-alert", alert);
}

async function add(form, file) {
  if (photoQueue.waiting.length >= MOST_WAITING) {
    say(form, `${MOST_WAITING} photos wait on this phone. Take more when the computer has answered.`, true);
    return;
  }
  say(form, "making it smaller");
  const picture = await shrunk(file);
  if (picture === null) {
    say(form, "This browser can't read that picture. Take or choose another.", true);
    return;
  }
  const fields = [...form.elements].filter((field) => field.name && field.value.trim());
  const about = Object.fromEntries(fields.map((field) => [field.name, field.value.trim()]));
  say(form, "sending");
  const words = `photo of ${form.dataset.of}`;
  const entry = photoQueue.add({ path: form.dataset.photo, body: { about, picture }, words }, (became, one) => told(form, became, one));
  form.elements.caption.value = "";
  form.dataset.newest = entry.id;
  entry.safe = await entry.safe;
  const ahead = photoQueue.waiting.indexOf(entry);
  if (!entry.safe) say(form, "sending: stay on this page until it is kept, as this browser stores nothing", true);
  else if (ahead > 0) say(form, `waits on this phone behind ${ahead} ${ahead === 1 ? "other" : "others"}`, true);
}

function told(form, became, entry) {
  if (became.kind === "kept") {
    say(form, became.answer.words);
    navigator.vibrate?.(30);
  } else if (became.kind === "refused") {
    photoQueue.drop(entry.id);
    say(form, `Not kept: ${became.error.what}: ${became.error.hint}`, true);
  } else if (entry.id === form.dataset.newest) {
    say(form, "Waits on this phone. It is sent as soon as the computer answers.", true);
  }
}

// Also forms that come with a part of the page that is drawn anew.
function show() {
  for (const form of document.querySelectorAll("form[data-photo][hidden]")) form.hidden = false;
}

document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-photo]");
  const [file] = event.target.matches(".picks") ? event.target.files : [];
  if (!form || !file) return;
  add(form, file);
  event.target.value = "";
});
document.addEventListener("submit", (event) => event.target.matches("form[data-photo]") && event.preventDefault());

const undo = document.querySelector("[data-undo-photo]");
undo?.addEventListener("click", () => {
  const said = document.getElementById("photo-became");
  said.textContent = "sending";
  undo.disabled = true;
  queue.add({ path: undo.dataset.undoPhoto, body: {}, words: "photo taken back", passing: true }, (became) => {
    if (became.kind === "kept") location.assign(document.querySelector(".back").href);
    else said.textContent = became.kind === "refused" ? became.error.what : "waits: no answer";
  });
});
if (undo) undo.hidden = false;

show();
new MutationObserver(show).observe(document.getElementById("main"), { childList: true, subtree: true });
