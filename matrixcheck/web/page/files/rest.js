// A rest scan: what shows with nothing pressed, or with only the held switches closed. Nothing is ticked beforehand.

import { showCall } from "./call.js";
import { set, setting } from "./client.js";
import { queue } from "./page.js";
import { Round } from "./round.js";
import { hand } from "./speech.js";
import { meaning } from "./typed.js";
import { leftWords, spokenDevice } from "./words.js";

class Rest extends Round {
  constructor() {
    super();
    this.tickedKey = `ticked-${this.data.job}-${this.data.matrix}-${this.data.sort}`;
    this.ticked = new Set(JSON.parse(setting(this.tickedKey, "[]")));
    this.meant = [...this.data.closed, ...this.data.held];
    this.warned = false;
    this.begin();
    this.drawn();
  }

  act(name) {
    if (name === "keep") this.keep();
    else if (name === "nothing") this.keepNothing();
    else if (name === "meant") this.turn(this.meant.filter((address) => !this.ticked.has(address)));
    else super.act(name === "tick" ? "works" : name);
  }

  // Numbers are ticked here, not judged.
  judge() {
    const meant = this.text.trim().split(/\s+/).map((word) => meaning(word, this.byNumber));
    const wrong = meant.find((one) => one.kind !== "cell" || one.sign);
    if (wrong?.kind === "empty") {
      this.keep();
      return;
    }
    this.type("");
    this.say("");
    if (wrong?.kind === "none") this.none(wrong.number);
    else if (wrong) this.complain(`${wrong.text ?? wrong.cell.number}: type the number alone`);
    else this.turn(meant.map((one) => one.cell.address));
  }

  turn(addresses) {
    document.getElementById("start")?.remove();
    for (const address of addresses) {
      if (!this.ticked.delete(address)) this.ticked.add(address);
      const cell = this.byAddress.get(address);
      const shows = this.ticked.has(address);
      showCall({ ...cell, mark: "", signs: {} }, "", shows ? "ticked: it shows" : "not ticked");
      hand(`${spokenDevice(cell)}, ${shows ? "ticked" : "not ticked"}`);
    }
    this.warned = false;
    this.keepTicks();
  }

  // With nothing ticked a scan isn't kept by a bare key, which may be a slip.
  keep() {
    if (this.ticked.size) this.scan();
    else this.say("Nothing is ticked. If nothing shows, press Nothing.", true);
  }

  keepNothing() {
    if (this.ticked.size) this.say(`${this.ticked.size} ticked: Keep the scan keeps those.`, true);
    else this.scan();
  }

  scan() {
    const text = [...this.ticked].join(" ");
    const words = `rest scan: ${this.ticked.size ? `${this.ticked.size} show` : "nothing shows"}`;
    this.ticked.clear();
    this.keepTicks();
    queue.add({ path: `${this.base}/scan`, body: { text }, words }, (became) => {
      if (became.kind === "refused") this.refuse(became.error);
      if (became.kind !== "kept") return;
      this.kept(became.answer);
      hand(words);
      if (this.data.held.length) location.reload(); // Then one switch after the other is pressed.
      else super.end();
    });
  }

  end() {
    if (this.ticked.size && !this.warned) {
      this.warned = true;
      this.say(`${this.ticked.size} ticked and not kept. End again leaves without them.`, true);
      return;
    }
    this.ticked.clear();
    this.keepTicks();
    super.end();
  }

  keepTicks() {
    set(this.tickedKey, JSON.stringify([...this.ticked]));
    this.drawn();
  }

  drawn() {
    if (!this.ticked) return;
    const cells = (addresses) => addresses.map((address) => this.byAddress.get(address)).filter(Boolean);
    const asked = this.data.held.length ? "Tick all that show with only the held switches closed." : "Tick all that show.";
    const which = this.data.held.length ? "held, or closed at rest" : "should be closed at rest";
    document.getElementById("more").textContent = [
      asked, leftWords(cells([...this.ticked]), "ticked"), leftWords(cells(this.meant), which),
    ].join("\n");
  }
}

new Rest();
