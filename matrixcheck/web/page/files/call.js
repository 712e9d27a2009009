// The device that is called back: its number large, its name, its verdict by colour, sign and word.

import { VERDICTS } from "./words.js";

const byId = (id) => document.getElementById(id);

// `became` is "sending", "kept", "waits" or "refused", "" where nothing is under way.
export function showCall({ number, name, mark, signs }, became = "", words = "") {
  byId("call").classList.toggle("-words", !number && Boolean(name));
  byId("number").textContent = number ?? "";
  byId("name").textContent = name ?? "";
  const verdict = byId("verdict");
  verdict.className = mark ? `verdict -${mark}` : "verdict";
  verdict.textContent = mark ? `${signs[mark] ?? ""} ${VERDICTS[mark]}`.trim() : "";
  const state = byId("became");
  state.className = became ? `became -${became}` : "became";
  state.textContent = words || became;
}

export function showMessage(words, alert = false) {
  const message = byId("message");
  message.textContent = words;
  message.classList.toggle("-alert", alert);
}

export function showTyped(text) {
  byId("typed").textContent = text;
}

// What a screen reader hears: only what was kept, refused, or can't be.
export function announce(words) {
  byId("said").textContent = words;
}

export function blink() {
  const call = byId("call");
  call.classList.remove("-blink");
  void call.offsetWidth;
  call.classList.add("-blink");
}
