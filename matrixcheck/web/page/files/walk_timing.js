// The timing of a test that steps by itself, as plain values and pure functions. All times are seconds of one clock.
//
// A timing is {began, seconds, pausedAt}: the first device showed at `began`, and it goes on every `seconds`. `pausedAt`
// is when it was stopped, null while it runs.

// Seconds after a step in which a key still speaks of the device before: as long as seeing and pressing take.
export const GRACE_SECONDS = 0.5;
// Share of a step at which a resumed walk stands: late enough that the next step rounds to the next device.
const LATE = 0.75;

const at = (timing, now) => timing.pausedAt ?? now;

// How many devices it is past the first.
export function placeAt(timing, now) {
  return Math.floor((at(timing, now) - timing.began) / timing.seconds);
}

// The share of the present step that is still to come: 1 just after a step, near 0 just before the next.
export function shareLeft(timing, now) {
  const steps = (at(timing, now) - timing.began) / timing.seconds;
  return 1 - (steps - Math.floor(steps));
}

// Whether a key pressed now may well be meant for the device before, as the step has only just come.
export function isLate(timing, now) {
  const gone = (1 - shareLeft(timing, now)) * timing.seconds;
  return timing.pausedAt === null && gone < Math.min(GRACE_SECONDS, timing.seconds / 2);
}

// The timing corrected by a step that happened just now: the nearest step is moved here.
export function steppedNow(timing, now) {
  const steps = Math.round((at(timing, now) - timing.began) / timing.seconds);
  return { ...timing, began: at(timing, now) - steps * timing.seconds };
}

export function moved(timing, by) {
  return { ...timing, began: timing.began - by * timing.seconds };
}

export function paused(timing, now) {
  return timing.pausedAt === null ? { ...timing, pausedAt: now } : timing;
}

export function resumed(timing, now) {
  if (timing.pausedAt === null) return timing;
  return { began: timing.began + now - timing.pausedAt, seconds: timing.seconds, pausedAt: null };
}

// The timing of a walk that was left, paused at the device that it showed when it was last known.
export function leftOff({ seconds, place, gone }, now) {
  const shown = place + Math.floor(gone / seconds);
  return { began: now - (shown + LATE) * seconds, seconds, pausedAt: now };
}
