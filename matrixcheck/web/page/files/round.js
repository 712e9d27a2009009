// What all rounds do alike: they begin and end in the journal, call each device back, and say what became of its mark.

import { announce, blink, showCall, showMessage, showTyped } from "./call.js";
import { set, setting } from "./client.js";
import { line, on, queue } from "./page.js";
import { hand, play, speaks, turn } from "./speech.js";
import { meaning, numbered, pressed } from "./typed.js";
import { KEPT_TONES, lineWords, spokenCall, tonesFor } from "./words.js";

// A mark that isn't kept by now is called back as waiting, so that nobody goes on in the belief that it is.
const SOON_MS = 700;

const byId = (id) => document.getElementById(id);

export class Round {
  constructor() {
    this.data = JSON.parse(byId("round-data").textContent);
    this.base = `/job/${this.data.job}/${this.data.matrix}`;
    this.typedKey = `typed-${this.data.job}-${this.data.matrix}-${this.data.sort}`;
    this.take(this.data.cells);
    this.text = setting(this.typedKey, "");
    this.sound = setting("sound", "off") === "on";
    this.called = 0;
    this.corrected = null;
    this.tool("sound", this.sound, (to) => set("sound", (this.sound = to) ? "on" : "off"));
    this.tool("voice", speaks(), turn);
    on("fresh", (page) => this.fresh(page));
    on("turned", (silent) => this.turned(silent));
  }

  // Begin in the journal, unless this phone's round is open already, or its beginning waits still.
  begin() {
    showTyped(this.text);
    const { sort, over, held } = this.data;
    const path = `${this.base}/begin`;
    const waits = queue.waiting.some((one) => one.path === path && one.body.sort === sort);
    if (this.data.round !== null || waits) return;
    const body = { sort, cells: over, held };
    queue.add({ path, body, words: `start of the ${sort}`, passing: true }, (became) => {
      if (became.kind === "refused") this.say(`${became.error.what}: ${became.error.hint}`, true);
    });
  }

  // End it, and go back to the job.
  end() {
    queue.add({ path: `${this.base}/end`, body: {}, words: "end of the round", passing: true });
    const leave = () => location.assign(`/job/${this.data.job}`);
    if (queue.waiting.length) on("changed", () => queue.waiting.length || leave());
    else leave();
  }

  // Type a key, or none, and keep what is typed for a reload.
  type(text) {
    this.text = text;
    set(this.typedKey, text);
    showTyped(text);
  }

  press(key) {
    this.type(pressed(this.text, key));
    const meant = meaning(this.text, this.byNumber);
    this.say(meant.kind === "cell" ? meant.cell.name : "");
  }

  // Keep something of cells: `mark` is what is called back of them.
  record({ path = "mark", body, words, cells, mark, next = "" }) {
    const call = ++this.called;
    const [cell] = cells;
    for (const one of cells) one.waits = mark;
    this.call(cell, mark, "sending");
    const spoken = (state) => hand(spokenCall(cell, mark, { state, next }), tonesFor(cell, mark));
    const late = setTimeout(() => {
      if (call === this.called) this.call(cell, mark, "waits", this.waits());
      spoken("waits");
    }, SOON_MS);
    queue.add({ path: `${this.base}/${path}`, body, words }, (became) => {
      if (became.kind === "kept") {
        clearTimeout(late);
        this.kept(became.answer, cells);
        if (call === this.called) this.call(cell, cell.later ? "later" : cell.mark, "kept");
        spoken("kept");
      } else if (became.kind === "refused") {
        clearTimeout(late);
        for (const one of cells) delete one.waits;
        if (call === this.called) this.call(cell, mark, "refused");
        this.refuse(became.error);
      }
    });
  }

  kept(answer, cells = []) {
    for (const one of cells) delete one.waits;
    this.take(answer.kept);
    const corrected = answer.kept.find((one) => one.corrected);
    this.corrected = corrected ? corrected.address : null;
    this.say(answer.words.replace(/^kept: /, ""));
    announce(answer.words);
    navigator.vibrate?.(30);
    if (this.sound) play(KEPT_TONES);
    this.drawn();
  }

  refuse(error) {
    const words = `Not kept: ${error.what}`;
    this.say(error.hint ? `${words}: ${error.hint}` : words, true);
    announce(words);
    navigator.vibrate?.([80, 60, 80]);
    hand(words, tonesFor(null, "refused"));
  }

  // Something that is no mark: undo, or that both outcomes count.
  ask(path, body, words) {
    queue.add({ path: `${this.base}/${path}`, body, words, passing: true }, (became) => {
      if (became.kind === "refused") this.say(`${became.error.what}: ${became.error.hint}`, true);
      if (became.kind !== "kept") return;
      const { answer } = became;
      this.kept(answer);
      const [first] = answer.kept;
      if (first) this.call(this.byAddress.get(first.address), first.later ? "later" : first.mark, "kept", words);
      hand(answer.words, KEPT_TONES);
      this.undone?.(answer.kept.map((one) => one.address));
    });
  }

  undo() {
    this.ask("undo", {}, "undone");
  }

  both() {
    if (this.corrected === null) this.say("Nothing was corrected: type a number again, with what it did now.");
    else this.ask("differed", { cell: this.corrected }, "both count");
    this.corrected = null;
  }

  call(cell, mark, became, words = "") {
    const { number, name } = cell;
    showCall({ number, name, mark, signs: this.data.signs }, became, words);
  }

  // A number that there isn't, called back as large as any other.
  none(number) {
    this.called += 1;
    showCall({ number, name: `not in ${this.data.matrix}`, mark: "", signs: {} }, "refused", "nothing kept");
    hand(`no ${number} here`, tonesFor(null, "refused"));
    announce(`no ${number} here`);
    navigator.vibrate?.([80, 60, 80]);
    this.type("");
  }

  already(cell) {
    this.called += 1;
    this.call(cell, "working", "kept", cell.waits ? "waits already" : "works already");
    blink();
    this.say(`${cell.number} ${cell.name} works already`);
    announce(`${cell.number} works already`);
    hand(`${cell.number}, ${cell.name}, works already`, tonesFor(cell, "working"));
    this.type("");
  }

  say(words, alert = false) {
    showMessage(words, alert);
  }

  waits() {
    return line.silent ? "waits: no answer" : "waits";
  }

  turned(silent) {
    const words = lineWords(silent, queue.waiting.length);
    this.say(words, silent);
    announce(words);
    hand(words, silent ? tonesFor(null, "refused") : KEPT_TONES);
  }

  // The page as the computer draws it now: others may have marked.
  fresh(page) {
    const data = JSON.parse(page.getElementById("round-data")?.textContent ?? "null");
    if (data === null) {
      location.reload(); // A coil is on: the computer shows what to do now, and nothing else.
      return;
    }
    this.take(data.cells);
    this.drawn();
  }

  // Cells as they stand now. What is here of them already stays the same object.
  take(cells) {
    this.byAddress ??= new Map();
    for (const { corrected, ...cell } of cells) {
      const known = this.byAddress.get(cell.address);
      if (known) Object.assign(known, cell);
      else this.byAddress.set(cell.address, cell);
    }
    this.cells = this.data.cells.map((cell) => this.byAddress.get(cell.address));
    this.byNumber = numbered(this.cells);
  }

  // What a round shows below the device at hand; each fills it in.
  drawn() {}

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
