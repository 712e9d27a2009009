// The steps of a walk, as pure functions over its cells in order.

// Where a walk goes on: after the last cell that it has entered.
export function resumedAt(order) {
  const last = order.findLastIndex((cell) => cell.entered || cell.waits !== undefined);
  return last < 0 ? 0 : Math.min(last + 1, order.length);
}

// The cells before a place of which nothing was entered.
export function unjudgedBefore(order, place) {
  return order.slice(0, place).filter((cell) => !cell.entered && cell.waits === undefined);
}

// The cells that were passed over: without a mark, and not put off.
export function skipped(order) {
  return order.filter((cell) => cell.mark === "untested" && !cell.later && cell.waits === undefined);
}

export function within(order, place) {
  return Math.max(0, Math.min(place, order.length));
}
