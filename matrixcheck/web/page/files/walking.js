// Walking: the machine waits at each device, one key judges it and goes on.

import { showCall, showMessage } from "./call.js";
import { set, setting } from "./client.js";
import { Round } from "./round.js";
import { hand } from "./speech.js";
import { resumedAt, skipped, within } from "./walk_steps.js";
import { SIGN_OF } from "./typed.js";
import { comingWords, spokenDevice, tonesFor, VERDICTS } from "./words.js";

const byId = (id) => document.getElementById(id);

export class Walk extends Round {
  constructor() {
    super();
    this.order = this.cells;
    this.placeKey = `place-${this.data.job}-${this.data.matrix}-${this.data.sort}`;
    this.place = this.placeLeft() ?? resumedAt(this.order);
    this.begin();
    this.drawn();
  }

  // The place at which this round was left, where that is known.
  placeLeft() {
    const { round, place } = JSON.parse(setting(this.placeKey, "{}"));
    return round !== undefined && round === this.data.round ? within(this.order, place) : null;
  }

  hand() {
    return this.order[this.place] ?? null;
  }

  act(name) {
    if (name === "before") this.go(-1);
    else if (name === "skip") this.go(1);
    else super.act(name);
  }

  judgeHand(verdict) {
    if (this.hand()) this.keepCell(this.hand(), SIGN_OF[verdict]);
    else if (verdict === "works" && skipped(this.order).length) this.takeUpSkipped();
    else this.say("The walk is through. End ends the round.");
  }

  // Only what speaks of the device at hand goes on: else the machine still shows that.
  goOn(cell) {
    if (cell !== this.hand()) return {};
    this.arrive(this.place + 1);
    return { next: this.announced() };
  }

  // What is spoken of the device that comes, before the machine shows it.
  announced() {
    return this.hand() ? `Next: ${spokenDevice(this.hand())}` : "The walk is through.";
  }

  introduction() {
    return this.hand() ? spokenDevice(this.hand()) : "The walk is through.";
  }

  go(by) {
    this.arrive(this.place + by);
    hand(this.introduction(), this.hand() ? tonesFor(this.hand(), "") : []);
  }

  arrive(place) {
    this.place = within(this.order, place);
    this.remember();
    this.drawn();
  }

  // Until the round has begun in the journal, nothing says whose place it is.
  begun(answer) {
    super.begun(answer);
    this.remember();
  }

  remember() {
    set(this.placeKey, JSON.stringify({ round: this.data.round, place: this.place }));
  }

  takeUpSkipped() {
    const left = skipped(this.order);
    if (!left.length) return;
    this.order = left;
    this.arrive(0);
    hand(this.introduction());
  }

  undone(addresses) {
    const place = this.order.findIndex((cell) => addresses.includes(cell.address));
    if (place >= 0) this.arrive(place);
  }

  redone(addresses) {
    const place = this.order.findIndex((cell) => addresses.includes(cell.address));
    if (place >= 0) this.arrive(place + 1);
  }

  // The walk goes on from a device that was found: the machine was stepped elsewhere.
  found(cell) {
    const place = this.order.indexOf(cell);
    if (place < 0) super.found(cell);
    else this.reach(place);
  }

  reach(place) {
    this.pad.home();
    this.go(place - this.place);
  }

  // The large letters are for the device that the machine shows; what became of the last mark stands below.
  call(cell, mark, became, words = "") {
    const verdict = mark ? `${this.data.signs[mark] ?? ""} ${VERDICTS[mark]}`.trim() : "";
    byId("last").className = mark ? `last -${mark}` : "last";
    byId("last").textContent = [cell.number, verdict].filter(Boolean).join(" ");
    // What was kept is said with all that there is to say of it, by kept().
    if (became !== "kept" || words) showMessage(words || became, became === "refused");
  }

  // A number that there isn't leaves the device at hand where it is.
  none(number) {
    this.calls += 1;
    this.complain(`no ${number} here`);
  }

  say(words, alert = false) {
    if (words) super.say(words, alert);
  }

  // Called back already: a few words say that it is kept, more only where there is more to say.
  kept(answer) {
    super.kept(answer);
    const [one, ...others] = answer.kept;
    if (one && !others.length && !one.corrected && !one.due) showMessage("kept");
  }

  drawn() {
    const cell = this.hand();
    const left = skipped(this.order);
    if (!cell) {
      showCall({ number: "", name: "The walk is through.", mark: "", signs: {} });
      const after = left.length
        ? comingWords(left, `${left.length} skipped. Works walks through them:`, left.length)
        : "Nothing was skipped. End ends the round.";
      byId("more").textContent = [...this.data.closing, after].join("\n");
      return;
    }
    const mark = cell.waits ?? (cell.later ? "later" : cell.mark);
    showCall({ ...cell, mark: mark === "untested" ? "" : mark, signs: this.data.signs }, "", this.where());
    byId("more").textContent = [cell.about, comingWords(this.order.slice(this.place + 1), "Next:")].filter(Boolean).join("\n");
  }

  where() {
    return `${this.place + 1} of ${this.order.length}`;
  }
}
