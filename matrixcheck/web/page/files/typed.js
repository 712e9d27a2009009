// What is typed, as pure functions. The computer reads the whole notation; the page only needs to know which cell a
// plain number means, so that it can call it back at once.

const PLAIN = /^([0-9A-Z]+(?:-[0-9A-Z]+)*)(\+-|[-*.])?$/;

export const SIGN_OF = { works: "", dead: "-", stuck: "*", later: ".", flickers: "+-" };
// Before the numbers of what glows faintly while the device at hand is lit.
export const FAINT = "~";
export const MARK_OF = { "": "working", "-": "dead", "*": "stuck", ".": "later", "+-": "unsteady" };

// The mark that an entry by address says of its cell.
export function markOf(text) {
  return MARK_OF[text.replace(/^r[0-9]+c[0-9]+/, "")] ?? "";
}

// Add a key to what is typed. `most` keeps a thumb that lies on the pad from typing for ever.
export function pressed(text, key, most = 60) {
  return text.length < most ? text + key : text;
}

// Numbers as they are compared: 024 and 24 are one, 9l is 9L.
function normal(number) {
  return /^[0-9]+$/.test(number) ? String(Number(number)) : number.toUpperCase();
}

export function numbered(cells) {
  return new Map(cells.map((cell) => [cell.number, cell]));
}

// What a typed text means: {kind: "empty"}, {kind: "cell", cell, sign}, {kind: "none", number} where no cell has that
// number, or {kind: "entry", text} for anything else, which the computer reads.
export function meaning(text, byNumber) {
  const word = text.trim().toUpperCase();
  if (!word) return { kind: "empty" };
  const found = PLAIN.exec(word);
  if (!found) return { kind: "entry", text: word };
  const cell = byNumber.get(normal(found[1]));
  if (cell) return { kind: "cell", cell, sign: found[2] ?? "" };
  if (/^[RC][0-9]+/.test(word)) return { kind: "entry", text: word };
  return { kind: "none", number: found[1] };
}

// What a typed text means once a judging key is pressed behind it; null where the two don't go together.
export function judged(text, verdict, byNumber) {
  const meant = meaning(text, byNumber);
  if (verdict === "works" || meant.kind === "empty" || meant.kind === "none") return meant;
  if (meant.kind === "cell" && meant.sign === "") return { ...meant, sign: SIGN_OF[verdict] };
  return null;
}

// An entry that begins with a sign speaks of the device at hand.
export function completed(text, cell) {
  return cell && /^[+/=*.]/.test(text) ? cell.address + text : text;
}
