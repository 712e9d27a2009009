// A part of the page drawn anew by the computer: what is typed, open, scrolled or under the finger stays.

const REACHED = "a[href], button, input, select, textarea, summary, [tabindex]";

export function redraw(part, fresh) {
  for (const { name, value } of fresh.attributes) if (name !== "id") part.setAttribute(name, value);
  if (fresh.innerHTML === part.innerHTML) return;
  const kept = before(part);
  part.innerHTML = fresh.innerHTML;
  after(part, kept);
}

function before(part) {
  const reached = [...part.querySelectorAll(REACHED)];
  const here = document.activeElement;
  return {
    typed: [...part.querySelectorAll("input[id], select[id], textarea[id]")]
      .filter((one) => one === here || one.value !== one.defaultValue)
      .map(({ id, value }) => ({ id, value })),
    open: [...part.querySelectorAll("details[id][open]")].map((one) => one.id),
    grids: [...part.querySelectorAll(".scroller[id]")]
      .map(({ id, className, style, scrollLeft, scrollTop }) => ({ id, className, style: style.cssText, scrollLeft, scrollTop })),
    focused: part.contains(here) ? { id: here.id, place: reached.indexOf(here), of: reached.length } : null,
  };
}

function after(part, { typed, open, grids, focused }) {
  for (const { id, value } of typed) {
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
