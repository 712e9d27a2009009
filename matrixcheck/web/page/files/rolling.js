// A round of typed numbers. A bare number works; a judging key behind it says otherwise.

import { Pad } from "./pad.js";
import { Round } from "./round.js";
import { judged, MARK_OF, SIGN_OF } from "./typed.js";
import { leftWords } from "./words.js";

const VERDICTS = Object.keys(SIGN_OF);

export class Roll extends Round {
  start() {
    this.atHand = null;
    this.pad = new Pad(document.getElementById("pad"), {
      typed: (sign) => this.press(sign),
      acted: (name) => this.act(name),
    });
    document.addEventListener("keydown", (event) => this.key(event));
    this.begin();
  }

  act(name) {
    if (VERDICTS.includes(name)) this.judge(name);
    else if (name === "back") this.type(this.text.slice(0, -1));
    else if (name === "undo") this.undo();
    else if (name === "both") this.both();
    else if (name === "end") this.end();
  }

  // Keys of a keyboard that is there: the same signs as at the computer.
  key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target.closest("button, dialog, a")) return;
    if (event.key === "Enter") this.judge("works");
    else if (event.key === "Backspace") this.act("back");
    else if (/^[0-9a-zA-Z+\-*./=,]$/.test(event.key)) this.press(event.key.toUpperCase());
    else return;
    event.preventDefault();
  }

  judge(verdict) {
    const meant = judged(this.text, verdict, this.byNumber);
    this.pad.layer("digits");
    if (meant === null) this.say(`${this.text}: a judging key goes with a number alone`, true);
    else if (meant.kind === "none") this.none(meant.number);
    else if (meant.kind === "entry") this.keepEntry(meant.text);
    else if (meant.kind === "cell") this.keepCell(meant.cell, meant.sign);
    else if (this.atHand) this.keepCell(this.atHand, SIGN_OF[verdict]);
    else this.say("Type the number that the machine shows.");
  }

  keepCell(cell, sign) {
    this.atHand = cell;
    if (sign === "" && !this.isNews(cell)) {
      this.already(cell);
      return;
    }
    const mark = MARK_OF[sign];
    this.type("");
    this.record({
      body: { text: `${cell.address}${sign}` }, words: `${cell.number}${sign} ${cell.name}`, cells: [cell], mark,
    });
  }

  keepEntry(text) {
    const first = this.byNumber.get(text.split(/[+/=*.,\s]/)[0]) ?? this.atHand;
    this.type("");
    this.record({ body: { text }, words: text, cells: [first ?? { number: text, name: "", address: "" }], mark: "" });
  }

  // Whether it says anything new that this one answered.
  isNews(cell) {
    if (cell.waits !== undefined) return cell.waits !== "working";
    return cell.mark !== "working" || cell.unsteady || cell.later;
  }

  drawn() {
    const left = this.cells.filter((cell) => cell.mark === "untested" && cell.waits === undefined);
    document.getElementById("more").textContent = leftWords(left, "left to test");
  }
}
