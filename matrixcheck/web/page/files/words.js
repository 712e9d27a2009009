// What is said and written, as pure functions.

function counted(count, one, many) {
  return `${count} ${count === 1 ? one : many}`;
}

// How the line and the queue are, in the few words that fit beside a title.
export function statusWords({ silent, waiting, refused, trouble }) {
  const said = [];
  if (trouble === "stranger") said.push("Scan the code again");
  else if (trouble?.full) said.push("Computer is busy");
  else if (silent) said.push("No answer");
  else if (trouble) said.push("Book in trouble");
  if (waiting && (silent || trouble)) said.push(counted(waiting, "waits", "wait"));
  else if (waiting) said.push(`sending ${waiting}`);
  if (refused) said.push(`${refused} refused`);
  return said.length ? said.join(", ") : "all kept";
}

export const VERDICTS = {
  working: "works", dead: "dead", stuck: "stuck", untested: "not tested", later: "later", unsteady: "comes and goes",
};

// What a line says that went silent, or is back.
export function lineWords(silent, waiting) {
  if (silent) {
    const waits = waiting ? ` ${counted(waiting, "entry waits", "entries wait")} on this phone.` : "";
    return `No answer from the computer.${waits}`;
  }
  return waiting ? `Connected again. Sending ${waiting}.` : "Connected again.";
}

// What is spoken of a device: its number, its name, its verdict; and what comes next.
export function spokenCall(cell, mark, { state = "kept", next = "" } = {}) {
  const verdict = VERDICTS[mark] ?? "";
  const more = state === "waits" ? "waits" : cell.due ? "needs another pass" : "";
  const said = [cell.number, cell.name, verdict, more].filter(Boolean).join(", ");
  return next ? `${said}. ${next}` : said;
}

const SCALE = [523, 587, 659, 698, 784, 880, 988, 1047, 1175, 1319];
const TONES_OF = {
  working: [660, 990], dead: [440, 220], stuck: [440, 440, 440], later: [550], unsteady: [440, 660, 440],
  refused: [200, 200],
};
export const KEPT_TONES = [{ hertz: 880, seconds: 0.06 }];

// The same in tones: one for each figure of the number, from low for 0 to high for 9, then rising for works, falling
// for dead, three alike for stuck.
export function tonesFor(cell, mark) {
  const figures = cell ? [...cell.number].filter((sign) => /[0-9]/.test(sign)) : [];
  const number = figures.map((figure) => ({ hertz: SCALE[Number(figure)], seconds: 0.16 }));
  const pause = number.length ? [{ hertz: 0, seconds: 0.12 }] : [];
  return [...number, ...pause, ...(TONES_OF[mark] ?? []).map((hertz) => ({ hertz, seconds: 0.14 }))];
}

// How many cells are left, and the numbers of the first `most`.
export function leftWords(cells, what, most = Infinity) {
  if (!cells.length) return `None ${what}.`;
  const numbers = cells.slice(0, most).map((cell) => cell.number).join(" ");
  return `${cells.length} ${what}${numbers ? `: ${numbers}` : "."}`;
}

export function spokenDevice(cell) {
  return `${cell.number}, ${cell.name}`;
}

// The devices that follow, by number and name, one a line.
export function comingWords(cells, heading, most = 3) {
  if (!cells.length) return "";
  return [heading, ...cells.slice(0, most).map((cell) => `${cell.number}  ${cell.name}`)].join("\n");
}

// How things are, in whole sentences.
export function sheetWords({ silent, waiting, refused, trouble, safe }) {
  const said = [];
  if (trouble === "stranger") said.push("The computer doesn't know this phone any more. Scan the code that it shows now.");
  else if (trouble?.full) said.push(`The computer has no room for this page now: ${trouble.what}. To make room, ${trouble.hint}.`);
  else if (silent) said.push("The computer doesn't answer.");
  else if (trouble) said.push(`The book can't be written now: ${trouble.what}. ${trouble.hint}`);
  if (waiting) {
    const where = safe ? "kept on this phone, and sent as soon as it can be" : "in this page alone: don't close it";
    said.push(`${counted(waiting, "entry waits", "entries wait")}, ${where}.`);
  }
  if (refused) said.push(`${counted(refused, "entry was", "entries were")} refused: put right or drop.`);
  return said.length ? said.join(" ") : "Everything is in the bench book.";
}
