// Finding a device by a few letters of its name, or by its number, as a pure function.

// The cells that are like a text, best first: words begun as typed, then words that hold it, then words that hold its
// letters in their order, as where one was left out. With nothing typed the first.
export function alike(text, cells, most = 8) {
  const typed = words(text);
  const ranked = cells.map((cell) => ({ cell, rank: rank(typed, words(`${cell.number} ${cell.name}`)) }));
  return ranked
    .filter((one) => one.rank < LIKE.length)
    .sort((one, other) => one.rank - other.rank)
    .slice(0, most)
    .map((one) => one.cell);
}

const LIKE = [
  (typed, word) => word.startsWith(typed),
  (typed, word) => word.includes(typed),
  (typed, word) => typed.length > 2 && inOrder(typed, word),
];

function rank(typed, of) {
  const found = LIKE.findIndex((like) => typed.every((part) => of.some((word) => like(part, word))));
  return found < 0 ? LIKE.length : found;
}

function inOrder(letters, word) {
  let at = -1;
  return [...letters].every((letter) => (at = word.indexOf(letter, at + 1)) >= 0);
}

function words(text) {
  return text.toLowerCase().split(/[^\p{L}\p{N}]+/u).filter(Boolean);
}
