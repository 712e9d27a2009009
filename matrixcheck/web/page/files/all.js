// All at once: everything is lit, what is dark is tapped, and one question settles the rest.

import { Round } from "./round.js";
import { ask } from "./question.js";
import { leftWords } from "./words.js";

class AllLit extends Round {
  constructor() {
    super();
    this.choices = document.getElementById("choices");
    this.choices.append(...this.cells.map((cell) => choice(cell)));
    this.choices.addEventListener("click", (event) => this.turn(event.target.closest("button")?.dataset.address));
    this.begin();
    this.drawn();
  }

  act(name) {
    if (name === "rest") this.askAboutRest();
    else super.act(name);
  }

  // Dark, or lit where it was marked by mistake.
  turn(address) {
    const cell = this.byAddress.get(address);
    if (!cell) return;
    const dark = (cell.waits ?? cell.mark) === "dead";
    this.keepCell(cell, dark ? "" : "-");
  }

  async askAboutRest() {
    const left = this.cells.filter((cell) => cell.mark === "untested" && cell.waits === undefined);
    if (!left.length) {
      this.end();
      return;
    }
    const yes = await ask(
      `${left.length} have no mark. Are they all lit?`, "Yes marks them as working. No goes back to marking.",
      "Yes, all lit", "No",
    );
    if (!yes) return;
    const text = left.map((cell) => cell.address).join(" ");
    this.record({ body: { text }, words: `${left.length} working`, cells: left, mark: "working" });
    this.end();
  }

  drawn() {
    if (!this.choices) return;
    for (const key of this.choices.children) {
      const cell = this.byAddress.get(key.dataset.address);
      const mark = cell.waits ?? cell.mark;
      key.className = `choice mark -${mark}`;
      key.setAttribute("aria-pressed", String(mark === "dead"));
      key.querySelector(".sign").textContent = mark === "untested" ? "" : this.data.signs[mark] ?? "";
    }
    const left = this.cells.filter((cell) => cell.mark === "untested" && cell.waits === undefined);
    document.getElementById("more").textContent = leftWords(left, "not marked yet", 0);
  }
}

function choice(cell) {
  const key = document.createElement("button");
  key.type = "button";
  key.dataset.address = cell.address;
  for (const [name, words] of [["sign", ""], ["number-of", cell.number], ["name-of", cell.name]]) {
    const part = document.createElement("span");
    part.className = name;
    part.textContent = words;
    key.append(part);
  }
  return key;
}

new AllLit();
