// A sheet over the page from which one thing is picked, or typed.

import { fingerLifted } from "./redraw.js";

// `field` names what is typed; `choices(text)` gives what can be picked then, each {words, value}; `own` is the word of
// the key that takes what was typed, "" where it only looks for something. Gives what was picked, null where it was closed.
export async function choose({ heading, field, choices, own = "", typing = false }) {
  await fingerLifted(); // Else the end of the tap that asked for it would fall on it.
  const dialog = made("dialog", "question choosing");
  dialog.setAttribute("aria-labelledby", "choosing");
  const title = made("h2", "", heading);
  title.id = "choosing";
  const label = made("label", "", field);
  const input = made("input", "field");
  Object.assign(input, { autocomplete: "off", type: own ? "text" : "search", autofocus: typing });
  label.append(input);
  const offered = made("div", "offered");
  const form = made("form", "");
  form.append(label);
  if (own) form.append(made("button", "key", own));
  const close = made("button", "key", "Close");
  close.type = "button";
  dialog.append(title, ...(typing ? [form, offered] : [offered, form]), close);
  document.body.append(dialog);
  return new Promise((done) => {
    let picked = null;
    const pick = (value) => {
      picked = value;
      dialog.close();
    };
    const draw = () => offered.replaceChildren(...choices(input.value).map(({ words, value }) => {
      const key = made("button", "key", words);
      key.type = "button";
      key.addEventListener("click", () => pick(value));
      return key;
    }));
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const text = input.value.trim();
      if (own && text) pick(text);
      else if (!own) offered.querySelector("button")?.click();
    });
    input.addEventListener("input", () => !own && draw());
    close.addEventListener("click", () => dialog.close());
    dialog.addEventListener("close", () => {
      dialog.remove();
      done(picked);
    });
    draw();
    dialog.showModal();
  });
}

function made(name, look, words = "") {
  const one = document.createElement(name);
  one.className = look;
  one.textContent = words;
  return one;
}
