// Walking in time with a machine that steps by itself: only exceptions are pressed.

import { showCall } from "./call.js";
import { set, setting } from "./client.js";
import { queue } from "./page.js";
import { ask } from "./question.js";
import { hand } from "./speech.js";
import { SIGN_OF } from "./typed.js";
import { unjudgedBefore, within } from "./walk_steps.js";
import { isLate, leftOff, moved, paused, placeAt, resumed, shareLeft, steppedNow } from "./walk_timing.js";
import { Walk } from "./walking.js";

const TICK_MS = 50;

const byId = (id) => document.getElementById(id);
// Not the page's own clock, which may stand still while the phone sleeps.
const now = () => Date.now() / 1000;

export class Timed extends Walk {
  constructor() {
    super();
    this.timingKey = `timing-${this.data.job}-${this.data.matrix}`;
    this.timing = this.timingLeft();
    this.firstTap = this.timing?.began ?? null;
    this.left = this.timing !== null;
    this.judgedAt = null;
    this.sign = "";
    this.broughtTo = null;
    this.unseen = new Set();
    this.asked = false;
    if (this.timing === null) this.place = 0;
    setInterval(() => this.tick(), TICK_MS);
    this.tick();
    this.drawn();
  }

  // A walk that was left comes back paused, at the device that it showed then: nobody knows where the machine is by now.
  timingLeft() {
    const { round, at, timing } = JSON.parse(setting(this.timingKey, "{}"));
    if (this.data.round === null || round !== this.data.round || !timing) {
      return this.data.pace ? leftOff(this.data.pace, now()) : null;
    }
    return leftOff({ seconds: timing.seconds, place: placeAt(timing, at), gone: 0 }, now());
  }

  act(name) {
    if (name === "step") this.step();
    else if (name === "pause") this.pause();
    else if (name === "earlier") this.earlier();
    else if (name === "before") this.bring(-1);
    else if (name === "skip") this.bring(1);
    else super.act(name);
  }

  key(event) {
    if (event.key === "Enter" && !this.text && !event.target.closest("button, dialog, a")) this.step();
    else super.key(event);
  }

  // The machine steps just now. Twice sets the time; after that it puts it right.
  step() {
    if (this.text && this.timing === null) {
      this.takeSeconds();
      return;
    }
    if (this.firstTap === null) this.firstTap = now();
    else if (this.timing === null) this.start(now() - this.firstTap);
    else this.keepTime(steppedNow(resumed(this.timing, now()), now()));
    this.left = false;
    this.tick();
    this.broughtTo = this.place;
    this.drawn();
  }

  judge(verdict) {
    if (this.timing === null && this.text) this.takeSeconds();
    else super.judge(verdict);
  }

  // Before the time is known a number is its seconds.
  takeSeconds() {
    const seconds = Number(this.text.replace(",", "."));
    const [least, most] = this.data.steps;
    if (seconds >= least && seconds <= most) {
      this.type("");
      this.start(seconds);
    } else {
      this.complain(`from one device to the next: ${least} to ${most} seconds, as in 2,5`);
    }
  }

  // The device that the machine shows, or the one before where the step has only just come.
  judgeHand(verdict) {
    if (!this.isTimed()) return;
    let place = this.place;
    const before = this.order[place - 1];
    const unjudged = before && !before.entered && before.waits === undefined;
    if (isLate(this.timing, now()) && place !== this.broughtTo && unjudged) place -= 1;
    if (place >= this.order.length) return;
    this.judgedAt = place;
    this.sign = SIGN_OF[verdict];
    this.keepCell(this.order[place], this.sign);
  }

  // The last judgement was meant for the device before.
  earlier() {
    if (!this.judgedAt) {
      this.say("No judgement to move to the device before.", true);
      return;
    }
    this.undo();
    this.judgedAt -= 1;
    this.keepCell(this.order[this.judgedAt], this.sign);
  }

  // Time runs on: nothing goes on because something was judged, or undone.
  goOn() {
    return {};
  }
  undone() {}
  redone() {}

  // Before the time is known a number is its seconds.
  isTimed() {
    if (this.timing === null) this.say("Press It steps now at the first device, and again at the second.", true);
    return this.timing !== null;
  }
  faint() {
    if (this.isTimed()) super.faint();
  }
  found(cell) {
    if (this.isTimed()) super.found(cell);
  }
  reach(place) {
    this.pad.home();
    this.bring(place - this.place);
  }

  bring(by) {
    if (this.timing === null) return;
    if (this.left) for (const cell of this.order.slice(this.place, this.place + Math.max(by, 0))) this.unseen.add(cell.address);
    this.keepTime(moved(this.timing, by));
    this.tick();
    this.broughtTo = this.place;
  }

  pause() {
    if (this.timing === null) return;
    this.keepTime(this.timing.pausedAt === null ? paused(this.timing, now()) : resumed(this.timing, now()));
    this.left = false;
    this.drawn();
  }

  end() {
    if (this.timing !== null) this.timing = paused(this.timing, now());
    this.askAboutUnjudged();
  }

  start(seconds) {
    const [least, most] = this.data.steps;
    this.firstTap ??= now();
    this.keepTime({ began: this.firstTap, seconds: Math.min(Math.max(seconds, least), most), pausedAt: null });
    this.tick();
    this.drawn();
  }

  keepTime(timing) {
    this.timing = timing;
    this.remember();
    const body = { seconds: timing.seconds, place: Math.max(placeAt(timing, now()), 0), paused: timing.pausedAt !== null };
    queue.add({ path: `${this.base}/pace`, body, words: "seconds a step", passing: true });
  }

  remember() {
    set(this.timingKey, JSON.stringify({ round: this.data.round, at: now(), timing: this.timing }));
  }

  tick() {
    if (this.timing === null || this.asked) return;
    const shown = placeAt(this.timing, now());
    const place = within(this.order, shown);
    byId("time").classList.add("-runs");
    byId("time-left").style.setProperty("--share", shareLeft(this.timing, now()).toFixed(3));
    if (place !== this.place) {
      this.place = place;
      this.remember();
      this.drawn();
      const coming = this.order[place + 1];
      if (this.hand()) hand(`${this.hand().number}${coming ? `. Next: ${coming.number}, ${coming.name}` : ""}`);
    }
    if (shown > this.order.length || (shown === this.order.length && !isLate(this.timing, now()))) this.askAboutUnjudged();
  }

  async askAboutUnjudged() {
    if (this.asked) return;
    this.asked = true;
    const place = this.timing === null ? 0 : this.place;
    const left = unjudgedBefore(this.order, place).filter((cell) => !this.unseen.has(cell.address));
    if (left.length) {
      const numbers = left.map((cell) => cell.number).join(" ");
      const question = `${left.length} not judged. Mark ${left.length === 1 ? "it" : "them"} as working?`;
      hand(question);
      const yes = await ask(
        question, `No leaves that untested: ${numbers}`,
        "Yes, all work", "No",
      );
      if (yes) this.markWorking(left);
    }
    super.end();
  }

  markWorking(cells) {
    const text = cells.map((cell) => cell.address).join(" ");
    this.record({ body: { text }, words: `${cells.length} working`, cells, mark: "working" });
  }

  drawn() {
    if (this.timing === undefined) return;
    if (this.timing !== null) {
      super.drawn();
      if (this.left) byId("more").textContent = RESUMED;
      return;
    }
    const what = this.firstTap === null ? FIRST : SECOND;
    showCall({ number: "", name: what, mark: "", signs: {} });
  }

  where() {
    const state = this.timing.pausedAt === null ? `every ${this.timing.seconds.toFixed(1)} s` : "paused";
    return `${super.where()}, ${state}`;
  }
}

const FIRST = "Press It steps now when the machine shows the first device.";
const SECOND = "Press it again when it goes on to the second; or type the seconds and press it.";
const RESUMED =
  "Walk resumed, and paused. Bring the page to the device that the machine shows, then press It steps now when it " +
  "steps. What passed meanwhile stays untested.";
