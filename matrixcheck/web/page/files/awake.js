// The screen stays on while a round is shown, where the browser gives that. Where it doesn't, that is said before.

import { showMessage } from "./call.js";

const GOES_DARK = "The screen may go dark in a round";

// What has to be said before a round, "" for nothing.
export function awakeWords({ secure, given }) {
  if (given) return "";
  const why = secure ? "this browser can't keep it on" : "a browser keeps it on over https only";
  return `${GOES_DARK}: ${why}. Set the phone to leave its screen on for longer. Marks are safe when it goes dark.`;
}

let lock = null;

async function keep() {
  if (document.hidden || (lock && !lock.released)) return;
  try {
    lock = await navigator.wakeLock.request("screen");
  } catch {
    showMessage(`${GOES_DARK}: the phone saves power.`);
  }
}

const before = document.getElementById("awake");
const given = "wakeLock" in navigator;
if (before) {
  before.textContent = awakeWords({ secure: isSecureContext, given });
  before.hidden = before.textContent === "";
} else if (given) {
  // A page that was out of sight has lost it.
  document.addEventListener("visibilitychange", keep);
  keep();
}
