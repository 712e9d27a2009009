// The keys under the thumb: what is pressed shows at once and acts at once, as on a keypad.

const CLICK_MS = 400;

export class Pad {
  // `typed(sign)` hears a key that types, `acted(name)` one that acts.
  constructor(element, { typed, acted }) {
    this.element = element;
    this.typed = typed;
    this.acted = acted;
    this.touched = false;
    element.addEventListener("pointerdown", (event) => this.down(event));
    element.addEventListener("click", (event) => this.click(event));
    element.addEventListener("contextmenu", (event) => event.preventDefault());
    window.addEventListener("pointerup", () => this.release());
    window.addEventListener("pointercancel", () => this.release());
  }

  // Go back to the layer that stands first.
  home() {
    this.layer(this.element.querySelector("[data-layer]").dataset.layer);
  }

  layer(name) {
    for (const layer of this.element.querySelectorAll("[data-layer]")) layer.hidden = layer.dataset.layer !== name;
  }

  down(event) {
    const key = event.target.closest("button");
    if (!key || key.disabled || event.button > 0) return;
    this.release();
    this.touched = true;
    key.classList.add("-pressed");
    this.press(key);
  }

  // The click that follows a touch is the same press, even where another key lies there by now. Any other click comes
  // from a keyboard or a screen reader.
  click(event) {
    const key = event.target.closest("button");
    if (this.touched) this.touched = false;
    else if (key && !key.disabled) this.press(key);
  }

  release() {
    for (const key of this.element.querySelectorAll(".-pressed")) key.classList.remove("-pressed");
    // Its click comes at once, or not at all.
    clearTimeout(this.clickLate);
    this.clickLate = setTimeout(() => (this.touched = false), CLICK_MS);
  }

  press(key) {
    const { type, act } = key.dataset;
    if (type !== undefined) this.typed(type);
    else if (act?.startsWith("layer-")) this.layer(act.slice("layer-".length));
    else if (act) this.acted(act);
  }
}
