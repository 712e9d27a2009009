"""Readings of one matrix as arrays, and how much likelier each place makes "it shows" than "it is dark".

A mark alone says nothing of the other places.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.evidence.exercises import Exercises, each_alone, exercises_of
from matrixcheck.diagnosis.evidence.intermittence import intermittent_cells
from matrixcheck.diagnosis.evidence.lit_strings import SWITCHED, mask_lit_strings, with_unsure
from matrixcheck.diagnosis.evidence.noise import (
    Judged,
    Predicted,
    Seen,
    glow_of,
    log_table,
    of_leds,
    rates_of_kind,
)
from matrixcheck.diagnosis.machine.matrix_frame import BATCH_PLACES, Bools, Floats, Frame, Ints, Places, States
from matrixcheck.diagnosis.machine.priors import ReadingRates
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

MOST_PLACES = 2**26
"""The latest readings of a matrix count, up to so many places in all: 64 MB an array of bytes. In 64 rows and columns
that is two readings of each cell."""
MOST_LAID_OUT = 1_000_000
"""Marks alone that contradict each other, or say that a switch doesn't open, are laid out one by one, up to so many
places in all: 8 MB an array of numbers. Beyond that what contradicts counts as wrong marks, and such a switch as one
that doesn't close."""

Codes = NDArray[np.uint8 | np.int32]
"""Columns of a table of log-weights: small where the table is."""


class Evidence(NamedTuple):
    """What the readings of one matrix say, as arrays over places: (sensed, exercises, driven).

    `seen`: as `Seen`. `judged`: as `Judged`.
    `base`: log-likelihood of everything, were nothing to show. `table[predicted, code]`: what a place of that code adds
    to it when it is predicted so (as `Predicted`; nothing for dark). `code`: the code of each place, as most of a large
    matrix' millions of places weigh the same. `ceiling`: log-likelihood of everything, were every place predicted as it
    was seen. `readings`: the readings behind the exercises. `rates`: the chances of wrong ones. `blew`: a fuse went
    during one of them. `left_out`: so many of the oldest readings were too many to count. `lit`: what `log_weights`
    gives for lit places, which every fit asks for, where few places are read.
    """

    exercises: Exercises
    seen: States
    judged: States
    base: float
    table: Floats
    code: Codes
    ceiling: float
    readings: tuple[Reading, ...]
    rates: ReadingRates
    blew: bool
    left_out: int = 0
    lit: Floats | None = None

    def cells_in(self, index: int) -> tuple[CellKey, ...]:
        """List the cells that were exercised or held in an exercise; none where every cell stands by itself."""
        if self.exercises.alone:
            return ()
        reading = self.readings[index]
        return (*reading.held, *filter(None, [reading.cell]))

    def log_weights_at(self, states: States, places: Ints | Places) -> Floats:
        """Return what flat places add to `base` when they are predicted so, in the shape of `places`."""
        at = states * np.int64(self.table.shape[1]) + self.code.ravel().take(places)
        found: Floats = self.table.ravel().take(at)
        return found

    def log_weights(self, predicted: int) -> Floats:
        """Return what each place adds to `base` when it is predicted so, by (sensed, exercise, driven)."""
        if predicted == Predicted.LIT and self.lit is not None:
            return self.lit
        found: Floats = np.take(self.table[predicted], self.code)
        return found

    def with_glow_as_seen(self, state: States) -> States:
        """Return a prediction with every glow as it was seen, bright or faint, where it may as well have been.

        `state[sensed, exercise, driven]`, as `Predicted`; the result has the same shape.
        """
        glow = self.fits_glow(state)
        return np.where(glow, self.seen, state) if glow.any() else state

    def fits_glow(self, state: States) -> Bools:
        """Return where a predicted glow was seen as a glow may as well look: bright, faint, or marked dead.

        `state[sensed, exercise, driven]`, as `Predicted`; the result is a mask in the same shape.
        Among faint ones a bright one is more than that, and a list says what is faint.
        """
        found: Bools = state == Predicted.GLOW
        if found.any():
            alike = self.table[Predicted.GLOW] > self.table[[Predicted.DARK, Predicted.FAINT, Predicted.LIT]].max(0) - 1
            found &= alike[self.code]
        return found

    def only(self, places: Sequence[int]) -> Evidence:
        """Keep a few of the exercises; `base` and `ceiling` stay those of all."""
        at = list(places)
        return self._replace(
            exercises=self.exercises.only(at),
            seen=self.seen[:, at],
            judged=self.judged[:, at],
            code=self.code[:, at],
            lit=None,
        )

    def batches(self) -> Iterator[Evidence]:
        """Yield runs of the exercises, one after the other, each small enough for arrays of numbers.

        All in one where they are few. `base` and `ceiling` stay those of all.
        """
        count = self.seen.shape[1]
        step = max(1, BATCH_PLACES * count // max(self.seen.size, 1))
        if self.exercises.alone or step >= count:
            yield self
            return
        for first in range(0, count, step):
            run = slice(first, first + step)
            yield self._replace(
                exercises=self.exercises.between(first, first + step),
                seen=self.seen[:, run],
                judged=self.judged[:, run],
                code=self.code[:, run],
                lit=None if self.lit is None else self.lit[:, run],
            )

    def within(self, cells: Bools) -> Evidence:
        """Keep what the readings say of the cells that are set, by (sensed, driven).

        `base` and `ceiling` stay those of all.
        """
        mask, nothing = cells[:, None, :], self.table.shape[1]
        return self._replace(
            seen=np.where(mask, self.seen, np.uint8(Seen.UNKNOWN)),
            judged=np.where(mask, self.judged, np.uint8(Judged.AS_OTHER)),
            table=np.concatenate([self.table, np.zeros((len(self.table), 1))], axis=1),
            code=np.where(mask, self.code, np.int32(nothing)).astype(np.int32),
        )

    @property
    def known(self) -> Bools:
        """Return where something was seen, dark or lit, as [sensed, exercise, driven]."""
        known: Bools = self.seen != Seen.UNKNOWN
        return known


def observe(frame: Frame, readings: Iterable[Reading], rates: ReadingRates) -> Evidence:
    """Lay out the readings of this frame's matrix; others, and those that say nothing, are passed over."""
    kept = [reading for reading in readings if reading.matrix == frame.matrix.id and _says_something(reading)]
    plain = not (intermittent_cells(kept) or _has_shut(frame, kept))
    if (plain or len(kept) * frame.fitted.size > MOST_LAID_OUT) and is_of_marks(frame, kept):
        return _observe_marks(frame, kept, rates)
    latest = kept[-max(1, MOST_PLACES // (2 * frame.fitted.size)) :]  # a mark says something of two exercises
    rests = _rests_of_marks(frame, latest)
    commands: list[Command] = [(reading.cell, reading.held) for reading in latest]
    exercises = exercises_of(frame, [*commands, *((None, rest.held) for rest in rests)])
    seen = np.full(exercises.closed.shape, Seen.UNKNOWN, dtype=np.uint8)
    judged = np.full(exercises.closed.shape, Judged.AS_OTHER, dtype=np.uint8)
    for index, reading in enumerate(latest):
        _set_exercise(frame, seen, judged, index, reading)
    lighting = SWITCHED
    if frame.is_strings:
        lighting = mask_lit_strings(frame, seen[:, : len(latest)], latest, rates.lighting_always_lit)
    for index, rest in enumerate(rests, len(latest)):
        for (sensed, driven), state in rest.seen.items():
            if lighting.switched or (state == Seen.LIT and not lighting.unsure):
                seen[sensed, index, driven] = state
                judged[sensed, index, driven] = Judged.AT_REST
    its, glow = rates_of_kind(frame, rates), glow_of(frame, exercises.slot, seen, judged)
    table = log_table(its, glow)
    code = (judged * np.uint8(table.shape[2]) + seen).astype(np.uint8)
    by_code = np.concatenate(list(table), axis=1)
    if frame.leds.any():
        code += (frame.leds[:, None, :] > 0) * np.uint8(by_code.shape[1])
        by_code = np.concatenate([by_code, *log_table(of_leds(its), glow)], axis=1)
    if lighting.unsure:
        of_lists = code[:, : len(latest)]
        by_code, code[:, : len(latest)] = with_unsure(by_code, of_lists, lighting.unsure, rates.lighting_not_switched)
    arrays = _Arrays(exercises, seen, judged, code)
    behind = [*latest, *(Reading(matrix=frame.matrix.id, held=rest.held) for rest in rests)]
    return _evidence(frame, arrays, by_code, behind, rates)._replace(left_out=len(kept) - len(latest))


def is_of_marks(frame: Frame, readings: Iterable[Reading]) -> bool:
    """Return whether readings of a matrix are marks alone, and rest scans that say no more than marks do.

    Such a scan is of marked cells: what answers is marked, and what doesn't answer is, or lies on lines of which other
    cells are. Where a supply or relay feeds cells at rest, lists say what a cell by itself doesn't.
    """
    marked: set[CellKey] = set()
    scans: list[Reading] = []
    for reading in readings:
        if reading.held or reading.faint or (reading.cell is None) != (reading.answered is not None):
            return False
        if reading.cell is None:
            scans.append(reading)
        else:
            marked.add(reading.cell)
    if not scans:
        return True
    fitted = frame.matrix.fitted
    if not marked or frame.is_strings or any(cell.notes.rest == "closed" for cell in fitted):
        return False
    if any(scan.answered for scan in scans):
        return frame.kind == "switch" and all(cell.key in marked for cell in fitted)
    driven = {frame.at(key)[1] for key in marked}
    return frame.kind == "switch" or all(frame.at(cell.key)[1] in driven for cell in fitted)


def _observe_marks(frame: Frame, readings: Sequence[Reading], rates: ReadingRates) -> Evidence:
    """Lay out marks alone: each is of its own cell, and of that cell at rest; several marks of a cell add up.

    Rest scans say what marked cells show at rest.
    """
    marked = [(frame.at(reading.cell), reading.mark) for reading in readings if reading.cell is not None]
    exercises = each_alone(frame, [reading.cell for reading in readings if reading.cell is not None])
    seen = np.full(exercises.closed.shape, Seen.UNKNOWN, dtype=np.uint8)
    judged = np.full(exercises.closed.shape, Judged.AS_OTHER, dtype=np.uint8)
    weights = np.zeros((4, *exercises.closed.shape))
    table = log_table(rates_of_kind(frame, rates))
    scans = [reading for reading in readings if is_rest_scan(reading)]
    for (sensed, driven), mark in marked:
        states = Seen.DARK if mark is Mark.DEAD else Seen.LIT, Seen.LIT if mark is Mark.STUCK else Seen.DARK
        for index, state in enumerate(states):
            if index and scans and mark is not Mark.STUCK:
                continue  # the scan says what isn't on
            seen[sensed, index, driven] = state
            weights[:, sensed, index, driven] += table[Judged.AT_REST if index else Judged.BY_MARK, :, state]
        judged[sensed, 0, driven] = Judged.BY_MARK
    for scan in scans:
        on = {frame.at(cell) for cell in scan.answered or ()}
        for place in dict.fromkeys(place for place, _ in marked):
            seen[place[0], 1, place[1]] = state = Seen.LIT if place in on else Seen.DARK
            weights[:, place[0], 1, place[1]] += table[Judged.AS_OTHER, :, state]
    code = np.arange(seen.size, dtype=np.int32).reshape(seen.shape)
    return _evidence(frame, _Arrays(exercises, seen, judged, code), weights.reshape(len(weights), -1), readings, rates)


def is_rest_scan(reading: Reading) -> bool:
    """Return whether nothing was exercised, and what is on was listed."""
    return reading.cell is None and reading.answered is not None


def _says_something(reading: Reading) -> bool:
    return reading.answered is not None or reading.mark not in (None, Mark.UNTESTED)


Command = tuple[CellKey | None, Sequence[CellKey]]


class _Rest(NamedTuple):
    """What marks say of a moment at rest: the cells held meanwhile, and what was seen, by place."""

    held: tuple[CellKey, ...]
    seen: dict[tuple[int, int], int]


def _rests_of_marks(frame: Frame, readings: Sequence[Reading]) -> list[_Rest]:
    """List what marks say of their cells at rest: one that is stuck is on, another one isn't.

    Marks of several cells stand together, several marks of one cell apart. A switch that rests closed is on at rest
    unless it is dead: only the mark `stuck` says which. Where a rest scan was made it says what isn't on.
    """
    found: list[_Rest] = []
    scanned = {reading.held for reading in readings if is_rest_scan(reading)}
    for reading in readings:
        if reading.answered is not None or reading.cell is None:
            continue
        is_stuck = reading.mark is Mark.STUCK
        if not is_stuck and (reading.held in scanned or _rests_closed(frame, reading.cell)):
            continue
        place = frame.at(reading.cell)
        rest = next((one for one in found if one.held == reading.held and place not in one.seen), None)
        if rest is None:
            rest = _Rest(reading.held, {})
            found.append(rest)
        rest.seen[place] = Seen.LIT if is_stuck else Seen.DARK
    return found


def _set_exercise(frame: Frame, seen: States, judged: States, index: int, reading: Reading) -> None:
    """Enter what a reading says in the arrays over (sensed, exercise, driven), at this exercise."""
    if reading.answered is not None:
        seen[:, index, :] = Seen.DARK
        for state, cells in ((Seen.FAINT, reading.faint), (Seen.LIT, reading.answered)):
            for cell in cells:
                sensed, driven = frame.at(cell)
                seen[sensed, index, driven] = state
        _mask_resting_closed(frame, seen, index, reading)
    elif reading.cell is not None:
        sensed, driven = frame.at(reading.cell)
        answers = reading.mark is Mark.WORKING or (
            reading.mark is Mark.STUCK and not _rests_closed(frame, reading.cell)
        )
        seen[sensed, index, driven] = Seen.LIT if answers else Seen.DARK
    if reading.cell is not None:
        sensed, driven = frame.at(reading.cell)
        judged[sensed, index, driven] = Judged.IN_LIST if reading.answered is not None else Judged.BY_MARK


def _has_shut(frame: Frame, readings: Iterable[Reading]) -> bool:
    """Return whether a switch that rests closed was marked dead or stuck: whether it is open or shut isn't known."""
    return any(
        reading.mark in (Mark.DEAD, Mark.STUCK) and reading.cell is not None and _rests_closed(frame, reading.cell)
        for reading in readings
    )


def _rests_closed(frame: Frame, cell: CellKey) -> bool:
    return frame.matrix.by_key[cell].notes.rest == "closed"


def _mask_resting_closed(frame: Frame, seen: States, index: int, reading: Reading) -> None:
    """Make unknown the switches that are closed when all is well: they may be listed or not."""
    if frame.kind == "switch" and reading.cell is not None:
        for cell in frame.matrix.fitted:
            if cell.notes.rest == "closed" and cell.key != reading.cell and cell.key not in reading.held:
                sensed, driven = frame.at(cell.key)
                seen[sensed, index, driven] = Seen.UNKNOWN


class _Arrays(NamedTuple):
    """The arrays of `Evidence` before they are weighed."""

    exercises: Exercises
    seen: States
    judged: States
    code: Codes


def _evidence(
    frame: Frame, arrays: _Arrays, weights: Floats, readings: Sequence[Reading], rates: ReadingRates
) -> Evidence:
    """Put the evidence together from `weights[predicted, code]`: log P(seen | predicted), by the codes of places."""
    dark, faint, on, glow = weights
    best = np.maximum(np.maximum(dark, on), dark if frame.kind == "switch" else faint)
    warm = frame.warm_leds > 0
    of_warm = _counted(arrays.code, warm, len(dark))
    others = _counted(arrays.code, ~warm, len(dark))
    return Evidence(
        exercises=arrays.exercises,
        seen=arrays.seen,
        judged=arrays.judged,
        base=float(((of_warm + others) * dark).sum()),
        table=np.stack([np.zeros_like(dark), faint - dark, on - dark, glow - dark]),
        code=arrays.code,
        ceiling=float((others * best + of_warm * np.maximum(best, glow)).sum()),
        readings=tuple(readings),
        rates=rates,
        blew=any(reading.blew for reading in readings),
        lit=np.take(on - dark, arrays.code) if arrays.code.size <= BATCH_PLACES else None,
    )


def _counted(code: Codes, cells: Bools, count: int) -> Ints:
    """Count how often each code stands at the cells that are set, by (sensed, driven).

    Line by line, as counting makes large numbers of small ones.
    """
    found = np.zeros(count, dtype=np.int64)
    for line, wanted in zip(code, cells, strict=True):
        found += np.bincount(line[:, wanted].ravel(), minlength=count)
    return found
