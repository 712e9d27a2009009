"""Step through a round as plain values: its cells in order, its place, and the timing of a self-stepping test.

It knows no screen and no clock: the time comes in as seconds of any steady clock.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from itertools import takewhile

from msgspec import Struct
from msgspec.structs import replace

from matrixcheck.layout.limits import LARGEST_NUMBER, STEP_SECONDS
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import Deferred, Event, Read, RoundEnded
from matrixcheck.record.job_state import JobState, Pace

GRACE_SECONDS = 0.5
"""Seconds after a step in which a key still speaks of the device before: as long as seeing and pressing take."""
LATE = 0.75
"""Share of a step at which a resumed walk stands: late enough that the next step rounds to the next device."""


def order_of(matrix: Matrix, cells: Collection[CellKey] = ()) -> tuple[Cell, ...]:
    """Return the cells of a round in the order of the machine's own test: these, or all of the matrix."""
    return tuple(cell for cell in matrix.in_walk_order if not cells or cell.key in cells)


def entered_since(state: JobState, since: int) -> frozenset[CellKey]:
    """Return the cells of which this client kept anything in the round that began at the event numbered `since`.

    A reading, or that they were put off. What it entered once the round was over is no part of it.
    """
    late = takewhile(lambda one: one.seq > since, reversed(state.history))
    own = [one.event for one in late if one.client == state.client]
    within = takewhile(lambda event: not isinstance(event, RoundEnded), reversed(own))
    return frozenset(key for key in map(_cell_of, within) if key is not None)


def resumed_at(order: Sequence[Cell], state: JobState, since: int) -> int:
    """Return where a round that began at event `since` goes on: after the last cell that it has entered."""
    entered = entered_since(state, since)
    places = [place for place, cell in enumerate(order) if cell.key in entered]
    return min(places[-1] + 1, len(order) - 1) if places else 0


def awaiting_retest(order: Sequence[Cell], state: JobState, since: int) -> frozenset[CellKey]:
    """Return the cells whose retest is due, or was begun and made in the round that began at event `since`."""
    waiting = (state.standings[cell.key] for cell in order)
    return frozenset(
        one.cell.key
        for one in waiting
        if one.repaired_by and (one.retest_due is not None or all(seen.seq > since for seen in one.seen))
    )


def untested(order: Sequence[Cell], state: JobState) -> tuple[Cell, ...]:
    """Return the cells that still have no mark."""
    return tuple(cell for cell in order if state.standings[cell.key].mark is Mark.UNTESTED)


def unjudged_before(order: Sequence[Cell], place: int, state: JobState, since: int) -> tuple[Cell, ...]:
    """Return the cells before `place` of which the round that began at `since` has entered nothing."""
    entered = entered_since(state, since)
    return tuple(cell for cell in order[:place] if cell.key not in entered)


def entry_for(cells: Sequence[Cell], sign: str = "") -> str:
    """Return one entry that says the same of all these cells."""
    return " ".join(f"{cell.key.address}{sign}" for cell in cells)


class WalkTiming(Struct, frozen=True):
    """Time a test that steps by itself: it showed its first device at `began` and goes on every `seconds`.

    `paused_at` is the time at which it was stopped, None while it runs. All are seconds of one steady clock.
    """

    began: float
    seconds: float
    paused_at: float | None = None

    def place(self, now: float) -> int:
        """Return how many devices it is past the first."""
        return int((self._time(now) - self.began) // self.seconds)

    def until_next(self, now: float) -> float:
        """Return the seconds to the next step."""
        return self.seconds - (self._time(now) - self.began) % self.seconds

    def left(self, now: float) -> float:
        """Return the share of the present step that is still to come: 1 just after a step, 0 just before the next."""
        return self.until_next(now) / self.seconds

    def is_late(self, now: float) -> bool:
        """Return whether a key pressed now may well be meant for the device before, as the step has only just come."""
        gone = self.seconds - self.until_next(now)
        return self.paused_at is None and gone < min(GRACE_SECONDS, self.seconds / 2)

    def stepped_now(self, now: float) -> WalkTiming:
        """Return the timing corrected by a step that happened just now: the nearest step is moved here."""
        steps = round((self._time(now) - self.began) / self.seconds)
        return replace(self, began=self._time(now) - steps * self.seconds)

    def moved(self, by: int) -> WalkTiming:
        """Return the timing with the device shown moved on by so many."""
        return replace(self, began=self.began - by * self.seconds)

    def paused(self, now: float) -> WalkTiming:
        """Return the timing stopped."""
        return self if self.paused_at is not None else replace(self, paused_at=now)

    def resumed(self, now: float) -> WalkTiming:
        """Return the timing going on where it was stopped."""
        if self.paused_at is None:
            return self
        return WalkTiming(self.began + now - self.paused_at, self.seconds)

    def _time(self, now: float) -> float:
        return now if self.paused_at is None else self.paused_at


def resumed_timing(pace: Pace, until: datetime, now: float) -> WalkTiming:
    """Return the timing of a walk that was left, paused at the device shown at `until`, when it was last known.

    It stands late in that device's time, so that marking time at the machine's next step goes on to the next device.
    """
    gone = 0.0 if pace.paused else (until - pace.at).total_seconds()
    seconds = STEP_SECONDS.nearest(pace.seconds)
    place = min(pace.place, LARGEST_NUMBER) + int(gone // seconds)
    return WalkTiming(now - (place + LATE) * seconds, seconds, now)


def _cell_of(event: Event) -> CellKey | None:
    if isinstance(event, Read):
        return event.reading.cell
    return event.cell if isinstance(event, Deferred) else None
