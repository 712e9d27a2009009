// The keys under the thumb: what is pressed shows at once and acts at once, as on a keypad.

export class Pad {
  // `typed(sign)` hears a key that types, `acted(name)` one that acts.
  constructor(element, { typed, acted }) {
    this.element = element;
    this.typed = typed;
    this.acted = acted;
    this.byPointer = null;
    element.addEventListener("pointerdown", (event) => this.down(event));
    element.addEventListener("click", (event) => this.click(event));
    element.addEventListener("contextmenu", (event) => event.preventDefault());
    for (const over of ["pointerup", "pointercancel"]) {
      window.addEventListener(over, () => this.release());
    }
  }

  layer(name) {
    for (const layer of this.element.querySelectorAll("[data-layer]")) layer.hidden = layer.dataset.layer !== name;
  }

  down(event) {
    const key = event.target.closest("button");
    if (!key || key.disabled || event.button > 0) return;
    this.release();
    key.classList.add("-pressed");
    this.byPointer = key;
    this.press(key);
  }

  // A click of which the finger's touch was heard already is the same press; any other comes from a keyboard or a
  // screen reader.
  click(event) {
    const key = event.target.closest("button");
    if (!key || key.disabled) return;
    if (event.detail > 0 && this.byPointer) {
      this.byPointer = null;
      return;
    }
    if (event.detail === 0) this.press(key);
  }

  release() {
    for (const key of this.element.querySelectorAll(".-pressed")) key.classList.remove("-pressed");
  }

  press(key) {
    const { type, act } = key.dataset;
    if (type !== undefined) this.typed(type);
    else if (act?.startsWith("layer-")) this.layer(act.slice("layer-".length));
    else if (act) this.acted(act);
  }
}
