// A grid grows under two fingers, or by its two buttons, inside its own scroller; how large it was is kept.

const LEAST = 1;
const MOST = 4;
const NAMES_FROM = 2;
const STEP = 1.5;

function sizeOf(scroller) {
  return Number(scroller.style.getPropertyValue("--zoom")) || LEAST;
}

function zoom(scroller, to, x = scroller.clientWidth / 2, y = scroller.clientHeight / 2) {
  const before = sizeOf(scroller);
  const now = Math.min(Math.max(to, LEAST), MOST);
  scroller.style.setProperty("--zoom", String(now));
  scroller.classList.toggle("-named", now >= NAMES_FROM);
  // What was between the fingers stays there.
  scroller.scrollLeft = ((scroller.scrollLeft + x) * now) / before - x;
  scroller.scrollTop = ((scroller.scrollTop + y) * now) / before - y;
  try {
    sessionStorage.setItem(`matrixcheck-zoom-${scroller.id}`, String(now));
  } catch {
    // It begins at its own size the next time.
  }
}

function pinched(scroller) {
  let start = null;
  const apart = ([one, other]) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY);
  scroller.addEventListener("touchstart", (event) => {
    start = event.touches.length === 2 ? { apart: apart(event.touches), size: sizeOf(scroller) } : null;
  }, { passive: true });
  scroller.addEventListener("touchmove", (event) => {
    if (!start || event.touches.length !== 2) return;
    event.preventDefault();
    const box = scroller.getBoundingClientRect();
    const [one, other] = event.touches;
    const middle = [(one.clientX + other.clientX) / 2 - box.left, (one.clientY + other.clientY) / 2 - box.top];
    zoom(scroller, (start.size * apart(event.touches)) / start.apart, ...middle);
  }, { passive: false });
}

export function watchGrids() {
  for (const scroller of document.querySelectorAll(".scroller")) {
    let before = null;
    try {
      before = sessionStorage.getItem(`matrixcheck-zoom-${scroller.id}`);
    } catch {
      // Nothing was kept.
    }
    if (before) zoom(scroller, Number(before), 0, 0);
    pinched(scroller);
  }
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-zoom]");
    if (!button) return;
    const scroller = document.getElementById(button.dataset.zoom);
    zoom(scroller, sizeOf(scroller) * (button.value === "larger" ? STEP : 1 / STEP));
  });
}
