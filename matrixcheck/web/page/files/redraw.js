// A part of the page drawn anew by the computer: what is typed, open, scrolled or under the finger stays.

const REACHED = "a[href], button, input, select, textarea, summary, [tabindex]";
const CLICK_MS = 60;
const FRESH_MS = 400;
const typed = new Map(); // By the id of its field, which an answer that is still being worked out may lack for a moment.
let lifted = Promise.resolve();

addEventListener("pointerdown", () => {
  lifted = new Promise((done) => {
    const up = () => setTimeout(done, CLICK_MS);
    for (const name of ["pointerup", "pointercancel"]) addEventListener(name, up, { once: true });
  });
}, true);

// Nothing is drawn anew under a finger: its tap would be lost.
export const fingerLifted = () => lifted;

export function redraw(part, fresh) {
  for (const { name, value } of fresh.attributes) if (name !== "id") part.setAttribute(name, value);
  if (fresh.innerHTML === part.innerHTML) return;
  const kept = before(part);
  part.innerHTML = fresh.innerHTML;
  after(part, kept);
  // Where another answer moves things, a tap meant for what stood there before does nothing.
  if (!("answer" in part.dataset)) return;
  part.classList.add("-fresh");
  setTimeout(() => part.classList.remove("-fresh"), FRESH_MS);
}

function before(part) {
  const reached = [...part.querySelectorAll(REACHED)];
  const here = document.activeElement;
  for (const one of part.querySelectorAll("input[id], textarea[id]")) {
    if (one.value === one.defaultValue) typed.delete(one.id);
    else typed.set(one.id, one.value);
  }
  return {
    open: [...part.querySelectorAll("details[id][open]")].map((one) => one.id),
    grids: [...part.querySelectorAll(".scroller[id]")]
      .map(({ id, className, style, scrollLeft, scrollTop }) => ({ id, className, style: style.cssText, scrollLeft, scrollTop })),
    focused: part.contains(here) ? { id: here.id, place: reached.indexOf(here), of: reached.length } : null,
  };
}

function after(part, { open, grids, focused }) {
  for (const [id, value] of typed) {
    const field = document.getElementById(id);
    if (field) field.value = value;
  }
  for (const id of open) document.getElementById(id)?.setAttribute("open", "");
  for (const { id, className, style, scrollLeft, scrollTop } of grids) {
    const scroller = document.getElementById(id);
    if (!scroller) continue;
    scroller.className = className;
    scroller.style.cssText = style;
    scroller.scrollTo(scrollLeft, scrollTop);
  }
  if (!focused) return;
  const reached = [...part.querySelectorAll(REACHED)];
  const again = focused.id ? document.getElementById(focused.id) : reached.length === focused.of ? reached[focused.place] : null;
  again?.focus({ preventScroll: true });
}
