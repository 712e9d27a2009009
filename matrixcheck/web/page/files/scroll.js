// Back and reload come to the same place: how far the page and each grid were scrolled, and which lines were open.

const KEY = `matrixcheck-place-${location.pathname}${location.search}`;

function scrollers() {
  return [...document.querySelectorAll(".scroller[id]")];
}

function keep() {
  const place = {
    top: scrollY,
    grids: Object.fromEntries(scrollers().map((one) => [one.id, [one.scrollLeft, one.scrollTop]])),
    open: [...document.querySelectorAll("details[id][open]")].map((one) => one.id),
  };
  try {
    sessionStorage.setItem(KEY, JSON.stringify(place));
  } catch {
    // A browser that keeps nothing: the page begins at its top.
  }
}

export function comeBack() {
  addEventListener("pagehide", keep);
  const how = performance.getEntriesByType("navigation")[0]?.type;
  if (how !== "reload" && how !== "back_forward") return;
  let place = null;
  try {
    place = JSON.parse(sessionStorage.getItem(KEY));
  } catch {
    // Nothing was kept.
  }
  if (!place) return;
  for (const id of place.open) document.getElementById(id)?.setAttribute("open", "");
  for (const one of scrollers()) one.scrollTo(...(place.grids[one.id] ?? [0, 0]));
  scrollTo(0, place.top);
}
