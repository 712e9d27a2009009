// What all rounds with a pad do alike: they begin and end in the journal, a thumb types numbers and judges them.

import { alike } from "./alike.js";
import { showTyped } from "./call.js";
import { choose } from "./choosing.js";
import { set, setting } from "./client.js";
import { offer } from "./offer.js";
import { Pad } from "./pad.js";
import { on, queue } from "./page.js";
import { Recorder } from "./recorder.js";
import { completed, FAINT, judged, MARK_OF, meaning, pressed, SIGN_OF } from "./typed.js";

export class Round extends Recorder {
  constructor() {
    super();
    this.typedKey = `typed-${this.data.job}-${this.data.matrix}-${this.data.sort}`;
    this.text = setting(this.typedKey, "");
    showTyped(this.text);
    this.pad = new Pad(document.getElementById("pad"), {
      typed: (sign) => this.press(sign),
      acted: (name) => this.act(name),
    });
    document.addEventListener("keydown", (event) => this.key(event));
  }

  // What each round fills in: the device that a sign alone speaks of, whether a tick of it says anything new, and what
  // follows once something was recorded of cells.
  hand() {
    return null;
  }
  isNews() {
    return true;
  }
  goOn() {}

  // Begin in the journal, unless this phone's round is open already, or its beginning waits still. The page that sent it
  // may be gone by then, so whichever page is there hears what became of it.
  begin() {
    const { sort, over, held } = this.data;
    const path = `${this.base}/begin`;
    const isBeginning = (entry) => entry.path === path && entry.body.sort === sort;
    on("settled", ({ entry, became }) => {
      if (!isBeginning(entry)) return;
      if (became.kind === "refused") this.complain(`${became.error.what}: ${became.error.hint}`);
      if (became.kind === "kept") this.begun(became.answer);
    });
    if (this.data.round !== null || queue.waiting.some(isBeginning)) return;
    const body = { sort, cells: over, held };
    queue.add({ path, body, words: `start of the ${sort}`, passing: true });
  }

  begun({ round, kept }) {
    this.data.round = round;
    this.take(kept);
  }

  // End it once all is sent, and go back to the job.
  end() {
    this.ending = true;
    const leave = () => location.assign(`/job/${this.data.job}`);
    queue.add({ path: `${this.base}/end`, body: {}, words: "end of the round", passing: true });
    on("changed", () => queue.waiting.length || leave());
    this.say("Ending the round.");
  }

  act(name) {
    if (name in SIGN_OF) this.judge(name);
    else if (name === "back") this.type(this.text.slice(0, -1));
    else if (name === "undo") this.undo();
    else if (name === "redo") this.redo();
    else if (name === "faint") this.faint();
    else if (name === "find") this.find();
    else if (name === "both") this.both();
    else if (name === "end") this.end();
  }

  // Keys of a keyboard that is there: the same signs as at the computer.
  key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target.closest("button, dialog, a")) return;
    if (event.key === "Enter") this.judge("works");
    else if (event.key === "Backspace") this.act("back");
    else if (/^[0-9a-zA-Z+\-*./=, ]$/.test(event.key)) this.press(event.key.toUpperCase());
    else return;
    event.preventDefault();
  }

  // What is typed stays through a reload.
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

  judge(verdict) {
    const meant = judged(this.text, verdict, this.byNumber);
    if (meant === null) {
      this.say(`${this.text}: Dead, Stuck and Later go with a number alone`, true);
      return;
    }
    this.type("");
    this.say("");
    this.pad.home();
    if (meant.kind === "none") this.none(meant.number);
    else if (meant.kind === "entry") this.keepEntry(meant.text);
    else if (meant.kind === "cell") this.keepCell(meant.cell, meant.sign);
    else this.judgeHand(verdict);
  }

  judgeHand(verdict) {
    if (this.hand()) this.keepCell(this.hand(), SIGN_OF[verdict]);
    else this.say("Type the number that the machine shows.");
  }

  keepCell(cell, sign) {
    if (sign === "" && !this.isNews(cell)) {
      this.already(cell);
      return;
    }
    const { next = "" } = this.goOn(cell) ?? {};
    const words = `${cell.number}${sign} ${cell.name}`;
    this.record({ body: { text: `${cell.address}${sign}` }, words, cells: [cell], mark: MARK_OF[sign], next });
    if (MARK_OF[sign] === "later") offer("Why?", () => this.why(cell));
  }

  // Put off already, for the way in which the layout says that it is reached: now for another reason.
  async why(cell) {
    const reasons = [...new Set([cell.reach, ...this.data.reasons])].filter(Boolean);
    const reason = await choose({
      heading: `${cell.number} ${cell.name}: why later?`,
      field: "Or a reason of your own",
      choices: () => reasons.map((one) => ({ words: one, value: one })),
      own: "Keep this reason",
    });
    if (reason === null) return;
    const words = `${cell.number} later: ${reason}`;
    this.record({ path: "later", body: { text: cell.address, reason }, words, cells: [cell], mark: "later" });
  }

  // Begin an entry that says what glows faintly while the device at hand is lit.
  faint() {
    const cell = this.hand();
    if (!cell) {
      this.say("First mark the device that is lit: what glows faintly is said of that.", true);
      return;
    }
    this.type(FAINT);
    this.pad.layer("digits");
    this.say(`While ${cell.number} ${cell.name} is lit these glow faintly: type their numbers`);
  }

  async find() {
    const cell = await choose({
      heading: "Find a device",
      field: "A few letters of its name",
      choices: (text) => alike(text, this.cells).map((one) => ({ words: `${one.number} ${one.name}`, value: one })),
      typing: true,
    });
    if (cell) this.found(cell);
  }

  // Its number as if it had been typed: a key judges it.
  found(cell) {
    this.pad.layer("digits");
    this.type(cell.number);
    this.say(cell.name);
  }

  // What only the computer can read: several entries, what answered too or instead, a resistance, a faint glow.
  keepEntry(typed) {
    if (typed.startsWith(FAINT)) {
      this.keepFaint(typed.slice(FAINT.length));
      return;
    }
    const text = completed(typed, this.hand());
    const first = meaning(text.split(/[\s+/=]/)[0], this.byNumber);
    const cell = first.kind === "cell" ? first.cell : this.byAddress.get(text.split(/[\s+/=]/)[0].toLowerCase());
    const words = cell && text !== typed ? `${cell.number}${typed}` : typed;
    const { next = "" } = (cell && this.goOn(cell)) ?? {};
    this.record({ body: { text }, words, cells: [cell ?? { number: typed, name: "" }], mark: "", next });
  }

  keepFaint(text) {
    const cell = this.hand();
    if (!cell) {
      this.complain(`${FAINT}${text}: first mark the device that is lit`);
      return;
    }
    const { next = "" } = this.goOn(cell) ?? {};
    const body = { cell: cell.address, text };
    this.record({ path: "faint", body, words: `${cell.number}${FAINT}${text}`, cells: [cell], mark: "", next });
  }
}
