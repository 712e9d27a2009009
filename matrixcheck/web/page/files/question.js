// One question over the page, answered by a thumb.

import { fingerLifted } from "./redraw.js";

// Ask, with what stands below the question and the words of both answers; gives true or false, null where it was closed.
export async function ask(words, detail, yes, no) {
  await fingerLifted(); // Else the end of the tap that led here would answer it.
  const dialog = document.createElement("dialog");
  dialog.className = "question";
  const heading = document.createElement("h2");
  heading.id = "question";
  heading.textContent = words;
  dialog.setAttribute("aria-labelledby", heading.id);
  const more = document.createElement("p");
  more.textContent = detail;
  const keys = document.createElement("form");
  keys.method = "dialog";
  keys.append(answer("no", no, ""), answer("yes", yes, "-working"));
  dialog.append(heading, more, keys);
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((done) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      done({ yes: true, no: false }[dialog.returnValue] ?? null);
    });
  });
}

function answer(value, words, look) {
  const key = document.createElement("button");
  key.value = value;
  key.className = `key ${look}`;
  key.textContent = words;
  return key;
}
