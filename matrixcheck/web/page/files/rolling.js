// A round of typed numbers: balls roll, the machine shows numbers. A bare number works; a judging key says otherwise.

import { Round } from "./round.js";
import { spokenDevice, leftWords } from "./words.js";

export class Roll extends Round {
  // `everyPressCounts`: in a hold round what answers is news, however often.
  constructor({ everyPressCounts = false } = {}) {
    super();
    this.everyPressCounts = everyPressCounts;
    this.atHand = null;
    this.begin();
  }

  hand() {
    return this.atHand;
  }

  goOn(cell) {
    this.atHand = cell;
  }

  isNews(cell) {
    this.atHand = cell;
    if (this.everyPressCounts) return true;
    if (cell.waits !== undefined) return cell.waits !== "working";
    return cell.mark !== "working" || cell.unsteady || cell.later;
  }

  introduction() {
    return this.atHand ? spokenDevice(this.atHand) : "Voice on.";
  }

  undone() {
    this.atHand = null;
  }

  drawn() {
    const left = this.cells.filter((cell) => cell.waits === undefined && this.isLeft(cell));
    const words = leftWords(left, this.everyPressCounts ? "left to press" : "left to test");
    document.getElementById("more").textContent = [words, ...(left.length ? [] : this.data.closing)].join("\n");
  }

  isLeft(cell) {
    if (!this.everyPressCounts) return cell.mark === "untested";
    return !cell.entered && !this.data.held.includes(cell.address);
  }
}
