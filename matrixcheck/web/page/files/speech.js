// What is spoken: everything goes through `hand`. Where the browser has no voice of its own, tones say number and
// verdict.

import { set, setting } from "./client.js";

let on = setting("voice", "off") === "on";

export function speaks() {
  return on;
}

export function turn(to) {
  on = to;
  set("voice", to ? "on" : "off");
  if (!to) globalThis.speechSynthesis?.cancel();
}

// A voice that needs no other host: the phone's own.
function voice() {
  const voices = globalThis.speechSynthesis?.getVoices() ?? [];
  const local = voices.filter((one) => one.localService);
  return local.find((one) => one.lang.startsWith("en")) ?? local[0] ?? null;
}

// Say words; what is still being said gives way. `tones` stand for them where there is no voice.
export function hand(words, tones = []) {
  if (!on || !words) return;
  const own = voice();
  if (!own) {
    play(tones);
    return;
  }
  const said = new SpeechSynthesisUtterance(words);
  said.voice = own;
  said.lang = own.lang;
  said.rate = 1.1;
  globalThis.speechSynthesis.cancel();
  globalThis.speechSynthesis.speak(said);
}

let context = null;

// Play tones one after the other, each {hertz, seconds}; hertz 0 is a pause.
export function play(tones) {
  const Context = globalThis.AudioContext;
  if (!Context || !tones.length) return;
  context ??= new Context();
  context.resume?.();
  let at = context.currentTime + 0.02;
  for (const { hertz, seconds } of tones) {
    if (hertz) {
      const source = context.createOscillator();
      const loudness = context.createGain();
      source.frequency.value = hertz;
      loudness.gain.setValueAtTime(0.25, at);
      loudness.gain.setTargetAtTime(0, at + seconds * 0.7, seconds * 0.1);
      source.connect(loudness).connect(context.destination);
      source.start(at);
      source.stop(at + seconds);
    }
    at += seconds;
  }
}
