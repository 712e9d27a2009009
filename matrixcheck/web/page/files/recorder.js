// Record something of a device, call it back at once, and say what became of it.

import { announce, blink, showCall, showMessage } from "./call.js";
import { client, set, setting } from "./client.js";
import { offer, withdraw } from "./offer.js";
import { line, on, queue } from "./page.js";
import { hand, play, speaks, turn } from "./speech.js";
import { markOf, numbered } from "./typed.js";
import { KEPT_TONES, lineWords, spokenCall, tonesFor } from "./words.js";

// A mark that isn't kept by now is called back as waiting, so that nobody goes on in the belief that it is.
const SOON_MS = 700;
const BUZZ_KEPT = [30];
const BUZZ_REFUSED = [80, 60, 80];

const byId = (id) => document.getElementById(id);

export class Recorder {
  constructor() {
    this.data = JSON.parse(byId("round-data").textContent);
    this.base = `/job/${this.data.job}/${this.data.matrix}`;
    this.sound = setting("sound", "off") === "on";
    this.calls = 0;
    this.ending = false;
    this.corrected = null;
    this.undos = 0;
    this.byAddress = new Map();
    this.take(this.data.cells);
    this.takeUpWaiting();
    this.tool("sound", this.sound, (to) => set("sound", (this.sound = to) ? "on" : "off"));
    this.tool("voice", speaks(), (to) => {
      turn(to);
      hand(this.introduction());
    });
    on("fresh", (page) => this.fresh(page));
    on("turned", (silent) => this.turned(silent));
  }

  // What each round fills in: what is below the device at hand, what is said first, where an undo and a redo lead.
  drawn() {}
  introduction() {
    return "";
  }
  undone() {}
  redone() {}

  // Keep something of cells: `mark` is what is called back of them, `next` what is spoken behind it.
  record({ path = "mark", body, words, cells, mark, next = "" }) {
    const call = ++this.calls;
    const [cell] = cells;
    byId("start")?.remove();
    this.undos = 0;
    withdraw();
    for (const one of cells) one.waits = mark;
    this.call(cell, mark, "sending");
    const speak = (state) => hand(spokenCall(cell, mark, { state, next }), tonesFor(cell, mark));
    let late = setTimeout(() => {
      late = null;
      if (call === this.calls) this.call(cell, mark, "waits", line.silent ? "waits: no answer" : "waits");
      speak("waits");
    }, SOON_MS);
    queue.add({ path: `${this.base}/${path}`, body, words }, (became) => {
      if (!["kept", "refused", "dropped"].includes(became.kind)) return;
      const soon = late !== null;
      clearTimeout(late);
      for (const one of cells) delete one.waits;
      if (became.kind === "dropped") {
        if (call === this.calls) this.call(cell, mark, "refused", "dropped");
        this.drawn();
        return;
      }
      if (became.kind === "refused") {
        if (call === this.calls) this.call(cell, mark, "refused");
        this.refuse(became.error);
        return;
      }
      this.kept(became.answer);
      if (call !== this.calls) return;
      // While a retest is due the cell stands untested, whatever one pass said.
      const stands = cell.later ? "later" : cell.unsteady ? "unsteady" : cell.mark;
      this.call(cell, cell.due ? mark : stands ?? mark, "kept");
      if (soon) speak("kept");
    });
    this.drawn();
  }

  // What waited already when this page was opened: its cells are not pressed again by mistake.
  takeUpWaiting() {
    for (const { path, body } of queue.waiting) {
      const cell = path === `${this.base}/mark` ? this.cellOf(body.text) : null;
      if (cell) cell.waits = markOf(body.text);
    }
    on("settled", ({ entry, became }) => {
      if (!entry.adopted || !entry.path.startsWith(`${this.base}/`)) return;
      delete this.cellOf(entry.body.text ?? "")?.waits;
      if (became.kind === "kept") this.take(became.answer.kept);
      this.drawn();
    });
  }

  // The one cell that an entry by address speaks of.
  cellOf(text) {
    return this.byAddress.get(text.match(/^r[0-9]+c[0-9]+/)?.[0]);
  }

  kept(answer) {
    this.take(answer.kept);
    if (answer.round !== null) this.data.round = answer.round;
    const corrected = answer.kept.find((one) => one.corrected);
    this.corrected = corrected ? corrected.address : null;
    this.say(answer.words.replace(/^kept: /, ""));
    announce(answer.words);
    navigator.vibrate?.(BUZZ_KEPT);
    if (this.sound) play(KEPT_TONES);
    this.drawn();
  }

  refuse(error) {
    this.complain(`Not kept: ${error.what}${error.hint ? `: ${error.hint}` : ""}`);
  }

  complain(words) {
    this.say(words, true);
    announce(words);
    navigator.vibrate?.(BUZZ_REFUSED);
    hand(words, tonesFor(null, "refused"));
    this.drawn();
  }

  // Something that is no mark: undo, redo, or that both outcomes count. `then` hears of which cells it was.
  ask(path, body, words, then) {
    const call = ++this.calls;
    queue.add({ path: `${this.base}/${path}`, body, words, passing: true }, (became) => {
      if (became.kind === "refused") this.complain(`${became.error.what}: ${became.error.hint}`);
      if (became.kind !== "kept") return;
      const { answer } = became;
      this.kept(answer);
      const [cell] = answer.kept.map((one) => this.byAddress.get(one.address));
      if (cell && call === this.calls) this.call(cell, cell.later ? "later" : cell.mark, "kept", words);
      hand(answer.words.replace(/[^\p{L}\p{N}\s:;,.]/gu, ""), KEPT_TONES);
      then(answer.kept.map((one) => one.address), call === this.calls);
    });
  }

  undo() {
    this.ask("undo", {}, "undone", (addresses, isLast) => {
      if (isLast) this.undos += 1;
      this.offerRedo();
      this.undone(addresses);
    });
  }

  redo() {
    this.ask("redo", {}, "counts again", (addresses) => {
      this.undos = Math.max(this.undos - 1, 0);
      this.offerRedo();
      this.redone(addresses);
    });
  }

  // As many redos as there were undos with nothing recorded since.
  offerRedo() {
    if (this.undos) offer("Redo", () => this.redo());
    else withdraw();
  }

  both() {
    if (this.corrected === null) this.say("Nothing was corrected: type a number again, with what it did now.");
    else this.ask("differed", { cell: this.corrected }, "both count", () => this.offerRedo());
    this.corrected = null;
  }

  call(cell, mark, became, words = "") {
    const { number, name } = cell;
    showCall({ number, name, mark, signs: this.data.signs }, became, words);
  }

  // A number that there isn't, called back as large as any other.
  none(number) {
    this.calls += 1;
    showCall({ number, name: `not in ${this.data.matrix}`, mark: "", signs: {} }, "refused", "nothing kept");
    this.complain(`no ${number} here`);
  }

  already(cell) {
    this.calls += 1;
    this.call(cell, "working", "kept", cell.waits ? "waits already" : "works already");
    blink();
    this.say(`${cell.number} ${cell.name} works already`);
    announce(`${cell.number} works already`);
    hand(`${cell.number}, ${cell.name}, works already`, tonesFor(cell, "working"));
  }

  say(words, alert = false) {
    showMessage(words, alert);
  }

  turned(silent) {
    const words = lineWords(silent, queue.waiting.length);
    this.say(words, silent);
    hand(words, silent ? tonesFor(null, "refused") : KEPT_TONES);
  }

  // The page as the computer draws it now: others may have marked.
  fresh(page) {
    if (this.ending) return;
    const data = JSON.parse(page.getElementById("round-data")?.textContent ?? "null");
    // A coil is on, the layout was changed, or this phone's round was ended in another tab: the computer shows what to do.
    const over = data?.client === `page ${client}` && this.data.round !== null && data.round === null;
    const known = this.data.cells;
    const same = data?.cells.length === known.length
      && data.cells.every(({ address, number }, place) => address === known[place].address && number === known[place].number);
    if (data === null || over || !same) {
      location.reload();
      return;
    }
    this.data.closing = data.closing;
    this.take(data.cells);
    this.drawn();
  }

  // Cells as they stand now. What is here of them already stays the same object.
  take(cells) {
    for (const { corrected, ...cell } of cells) {
      const known = this.byAddress.get(cell.address);
      if (known) Object.assign(known, cell);
      else this.byAddress.set(cell.address, cell);
    }
    this.cells = this.data.cells.map((cell) => this.byAddress.get(cell.address));
    this.byNumber = numbered(this.cells);
  }

  tool(id, state, turned) {
    const button = byId(id);
    button.setAttribute("aria-pressed", String(state));
    button.addEventListener("click", () => {
      const to = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(to));
      turned(to);
    });
  }
}
