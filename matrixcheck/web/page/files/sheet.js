// The sheet over every page: how the line is, what waits on this phone, what was refused, and whose hand it is.

import { initials, set } from "./client.js";
import { line, on, queues } from "./page.js";
import { sheetWords } from "./words.js";

const byId = (id) => document.getElementById(id);
const sheet = byId("sheet");

byId("about").addEventListener("click", () => {
  draw();
  sheet.showModal();
});
on("changed", () => sheet.open && draw());
on("turned", () => sheet.open && draw());

byId("initials").value = initials() ?? "";
byId("initials").addEventListener("change", ({ target }) => {
  target.value = target.value.replace(/[^\p{L}]/gu, "").slice(0, 4);
  set("initials", target.value);
});

function draw() {
  const waiting = queues.flatMap((one) => one.waiting);
  byId("sheet-line").textContent = sheetWords({
    silent: line.silent, waiting: waiting.length, refused: queues.flatMap((one) => one.refused).length,
    trouble: queues.map((one) => one.trouble).find(Boolean) ?? null,
    safe: waiting.every((entry) => entry.safe !== false),
  });
  byId("sheet-entries").replaceChildren(...queues.flatMap((one) => one.entries.map((entry) => item(one, entry))));
}

function item(queue, entry) {
  const row = document.createElement("li");
  const words = document.createElement("p");
  words.textContent = entry.state === "refused" ? `${entry.words}: ${entry.error.what}` : `${entry.words}: ${entry.state}`;
  row.append(words);
  if (entry.state === "refused") {
    if (entry.error.hint) row.append(paragraph(entry.error.hint));
    row.append(...fixing(queue, entry));
  }
  if (entry.state !== "sending") row.append(key(`Drop ${entry.words}`, "Drop it", () => queue.drop(entry.id)));
  return row;
}

// What was typed can be put right; anything else is sent again as it is.
function fixing(queue, entry) {
  if (entry.body.text === undefined) return [key("", "Send again", () => queue.fix(entry.id, entry.body, entry.words))];
  const field = document.createElement("input");
  field.className = "field";
  field.value = entry.body.text;
  field.setAttribute("aria-label", `Put right: ${entry.words}`);
  field.autocapitalize = "characters";
  const send = () => queue.fix(entry.id, { ...entry.body, text: field.value }, field.value);
  return [field, key("", "Send it so", send)];
}

function paragraph(words) {
  const made = document.createElement("p");
  made.textContent = words;
  return made;
}

function key(name, words, pressed) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "key";
  made.textContent = words;
  if (name) made.setAttribute("aria-label", name);
  made.addEventListener("click", pressed);
  return made;
}
