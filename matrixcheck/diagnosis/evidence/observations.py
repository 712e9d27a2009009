"""Readings of one matrix as arrays, weighed: how much likelier each place makes "it shows" than "it is dark".

Noise belongs to the cell: the exercised cell is judged wrongly now and then, a false echo of a particular other cell is
far rarer. A mark alone says nothing of the other places.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.evidence.exercises import Exercises, each_alone, exercises_of
from matrixcheck.diagnosis.evidence.intermittence import wavering
from matrixcheck.diagnosis.machine.matrix_frame import PART_PLACES, Bools, Floats, Frame, Ints, Places, States
from matrixcheck.diagnosis.machine.priors import ReadingRates
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

DARK, FAINT, LIT, UNKNOWN = range(4)
GLOW = 3
"""Predicted of a keep-warm LED: bright or faint, one way or the other."""


class Evidence(NamedTuple):
    """`seen[sensed, exercise, driven]`: DARK, FAINT, LIT or UNKNOWN. `exercised`: 1 at the exercised place, 2
    where it was only marked.

    `base`: log-likelihood of everything, were nothing to show. `table[predicted, code]`: what a place of that code adds
    to it when it is predicted DARK (nothing), FAINT, LIT or GLOW; `code[sensed, exercise, driven]`: the code of each
    place, as most of a large matrix' millions of places weigh the same. `ceiling`: log-likelihood of everything, were
    every place predicted as it was seen. `readings`: the readings behind the exercises. `blew`: a fuse went during one
    of them. `left_out`: so many of the oldest readings were too many to be weighed. `lit`: what `gains`
    gives for LIT, which every fit asks for, where few places are read.
    """

    exercises: Exercises
    seen: States
    exercised: States
    base: float
    table: Floats
    code: NDArray[np.uint8 | np.int32]
    ceiling: float
    readings: tuple[Reading, ...]
    blew: bool
    left_out: int = 0
    lit: Floats | None = None

    def around(self, index: int) -> tuple[CellKey, ...]:
        """The cells that were exercised or held in an exercise; none where every cell stands by itself."""
        if self.exercises.alone:
            return ()
        reading = self.readings[index]
        return (*reading.held, *filter(None, [reading.cell]))

    def told(self, states: States, places: Ints | Places) -> Floats:
        """What flat places add to `base` when they are predicted so."""
        told: Floats = self.table[states, self.code.ravel()[places]]
        return told

    def gains(self, predicted: int) -> Floats:
        """What each place adds to `base` when it is predicted so, by (sensed, exercise, driven)."""
        if predicted == LIT and self.lit is not None:
            return self.lit
        gained: Floats = np.take(self.table[predicted], self.code)
        return gained

    def as_told(self, state: States) -> States:
        """A prediction with every glow as it was seen, bright or faint, where it may as well have been."""
        glow = self.as_glow(state)
        return np.where(glow, self.seen, state) if glow.any() else state

    def as_glow(self, state: States) -> Bools:
        """Where a predicted glow was seen, bright or faint, and a glow may as well look so: among faint ones a bright
        one is more than that."""
        found: Bools = state == GLOW
        if found.any():
            as_good = self.table[GLOW] > np.maximum(self.table[LIT], self.table[FAINT]) - 1.0
            found &= (self.seen != DARK) & as_good[self.code]
        return found

    def only(self, places: Sequence[int]) -> Evidence:
        """What a few of the exercises say, for a first glance: `base` and `ceiling` stay those of all."""
        at = list(places)
        return self._replace(
            exercises=self.exercises.only(at),
            seen=self.seen[:, at],
            exercised=self.exercised[:, at],
            code=self.code[:, at],
            lit=None,
        )

    def parts(self) -> Iterator[Evidence]:
        """Runs of the exercises, one after the other, each small enough for arrays of numbers; all in one where they
        are few. `base` and `ceiling` stay those of all."""
        count = self.seen.shape[1]
        step = max(1, PART_PLACES * count // max(self.seen.size, 1))
        if self.exercises.alone or step >= count:
            yield self
            return
        for first in range(0, count, step):
            run = slice(first, first + step)
            yield self._replace(
                exercises=self.exercises.between(first, first + step),
                seen=self.seen[:, run],
                exercised=self.exercised[:, run],
                code=self.code[:, run],
                lit=None if self.lit is None else self.lit[:, run],
            )

    def within(self, cells: Bools) -> Evidence:
        """What the readings say of some cells. `cells[sensed, driven]`: which. `base` and `ceiling` stay those of
        all."""
        mask, nothing = cells[:, None, :], self.table.shape[1]
        return self._replace(
            seen=np.where(mask, self.seen, np.uint8(UNKNOWN)),
            exercised=np.where(mask, self.exercised, np.uint8(0)),
            table=np.concatenate([self.table, np.zeros((len(self.table), 1))], axis=1),
            code=np.where(mask, self.code, np.int32(nothing)).astype(np.int32),
        )

    @property
    def known(self) -> Bools:
        """Where something was seen, dark or lit."""
        known: Bools = self.seen != UNKNOWN
        return known


MOST_PLACES = 2**26
"""The latest readings of a matrix are weighed, up to so many places in all; in 64 rows and columns two of each cell."""
MOST_APART = 1_000_000
"""Marks alone that contradict each other are laid out one by one, up to so many places in all."""
NEVER = 1e-9
Glows = tuple[float, float, float, float]
_GLOWS: Glows = (0.02, 0.98, 0.98, 1)
_FAINT_GLOWS: Glows = (0.02, 0.98, 0.05, 1)
_BRIGHT_GLOWS: Glows = (0.02, 0.15, 0.98, 1)
"""P(seen DARK, FAINT, LIT, UNKNOWN) of a keep-warm LED. Whether they are bright or faint is one thing that isn't known
of a bank, and not one a reading: it is taken as it comes. Where they are faint, none is bright by itself; where they
are bright, one may dim while a strong coil pulls (common practice, no source)."""


@cache
def log_table(rates: ReadingRates, glows: Glows = _GLOWS) -> Floats:
    """log P(seen | predicted), indexed [place, predicted dark/faint/on/glow, seen DARK/FAINT/LIT/UNKNOWN]; place 0 is
    any other than the exercised one, 1 the exercised one in a list of what answered, 2 one that was only marked."""
    mixed = rates.glow_taken_for_light
    other = [
        [1 - rates.false_echo - rates.false_glow, rates.false_glow, rates.false_echo, 1],
        [rates.missed_glow, 1 - rates.missed_glow - mixed, mixed, 1],
        [rates.missed_echo, mixed, 1 - mixed - rates.missed_echo, 1],
        glows,
    ]
    exercised = [
        [
            [1 - e - e / 4, e / 4, e, 1],
            [0.5, 0.4, 0.1, 1],
            [e, e / 4, 1 - e - e / 4, 1],
            glows,
        ]
        for e in (rates.wrong_answer, rates.wrong_mark)
    ]
    return np.log(np.array([other, *exercised], dtype=np.float64))


def weigh(frame: Frame, readings: Iterable[Reading], rates: ReadingRates) -> Evidence:
    """The readings of this frame's matrix; those of other matrices, and those that say nothing, are passed over."""
    kept = [reading for reading in readings if reading.matrix == frame.matrix.id and _says_something(reading)]
    steady = not wavering(kept) or len(kept) * frame.fitted.size > MOST_APART
    if steady and all(reading.answered is None and not reading.held for reading in kept):
        return _weigh_marks(frame, kept, rates)
    weighed = kept[-max(1, MOST_PLACES // (2 * frame.fitted.size)) :]  # a stuck cell's mark is two exercises
    commands, told = _commands(weighed)
    exercises = exercises_of(frame, commands)
    seen = np.full(exercises.closed.shape, UNKNOWN, dtype=np.uint8)
    exercised = np.zeros(exercises.closed.shape, dtype=np.uint8)
    for index, each in enumerate(told):
        _tell(frame, seen, exercised, index, each)
    if frame.is_strings:
        _forget_lit_strings(frame, seen, commands)
    table = log_table(rates_of_kind(frame, rates), _glows_of(frame, seen, exercised))
    by_code = np.concatenate(list(table), axis=1)
    laid = _Laid(exercises, seen, exercised, (exercised * np.uint8(table.shape[2]) + seen).astype(np.uint8))
    found = _weighed(frame, laid, by_code, [reading for reading, _ in told])
    return found._replace(left_out=len(kept) - len(weighed))


def _weigh_marks(frame: Frame, readings: Sequence[Reading], rates: ReadingRates) -> Evidence:
    """Marks alone: each speaks of its own cell, and of that cell at rest; several marks of a cell add up."""
    marked = [(frame.at(reading.cell), reading.mark) for reading in readings if reading.cell is not None]
    exercises = each_alone(frame, [reading.cell for reading in readings if reading.cell is not None])
    seen = np.full(exercises.closed.shape, UNKNOWN, dtype=np.uint8)
    exercised = np.zeros(exercises.closed.shape, dtype=np.uint8)
    weights = np.zeros((4, *exercises.closed.shape))
    table = log_table(rates_of_kind(frame, rates))
    for (sensed, driven), mark in marked:
        states = DARK if mark is Mark.DEAD else LIT, LIT if mark is Mark.STUCK else DARK
        for index, state in enumerate(states):
            seen[sensed, index, driven] = state
            weights[:, sensed, index, driven] += table[2, :, state]
        exercised[sensed, 0, driven] = 2
    code = np.arange(seen.size, dtype=np.int32).reshape(seen.shape)
    return _weighed(frame, _Laid(exercises, seen, exercised, code), weights.reshape(len(weights), -1), readings)


def _glows_of(frame: Frame, seen: States, exercised: States) -> Glows:
    """What the keep-warm LEDs of a bank look like: as most of them were seen while others were exercised, or as faint
    as most were at rest, when nothing pulls that could dim them."""
    warm = (frame.warm_leds[:, None, :] > 0) & (exercised == 0)
    bright, faint = (warm & (seen == LIT)).sum(axis=(0, 2)), (warm & (seen == FAINT)).sum(axis=(0, 2))
    if not (bright + faint).any():
        return _GLOWS
    at_rest = exercised.max(axis=(0, 2)) == 0
    faint_at_rest = faint[at_rest].any() and faint[at_rest].sum() >= bright[at_rest].sum()
    return _FAINT_GLOWS if faint_at_rest or faint.sum() >= bright.sum() else _BRIGHT_GLOWS


def rates_of_kind(frame: Frame, rates: ReadingRates) -> ReadingRates:
    """The rates that count in such a matrix: a switch knows no glow."""
    return rates._replace(false_glow=NEVER, glow_taken_for_light=NEVER) if frame.kind == "switch" else rates


def _says_something(reading: Reading) -> bool:
    return reading.answered is not None or reading.mark not in (None, Mark.UNTESTED)


Told = tuple[Reading, CellKey | None]
Command = tuple[CellKey | None, Sequence[CellKey]]


def _commands(readings: Sequence[Reading]) -> tuple[list[Command], list[Told]]:
    """Exercises and, beside each, its reading and the place that was judged. A cell marked stuck was on at rest too."""
    commands: list[Command] = []
    told: list[Told] = []
    for reading in readings:
        commands.append((reading.cell, reading.held))
        told.append((reading, reading.cell))
        if reading.answered is None and reading.mark is Mark.STUCK:
            commands.append((None, reading.held))
            told.append((reading, reading.cell))
    return commands, told


def _tell(frame: Frame, seen: States, exercised: States, index: int, told: Told) -> None:
    reading, judged = told
    if reading.answered is not None:
        seen[:, index, :] = DARK
        for state, cells in ((FAINT, reading.faint), (LIT, reading.answered)):
            for cell in cells:
                sensed, driven = frame.at(cell)
                seen[sensed, index, driven] = state
        _forget_what_is_normal(frame, seen, index, reading)
    elif judged is not None:
        sensed, driven = frame.at(judged)
        seen[sensed, index, driven] = DARK if reading.mark is Mark.DEAD else LIT
    if judged is not None:
        sensed, driven = frame.at(judged)
        exercised[sensed, index, driven] = 1 if reading.answered is not None else 2


def _forget_what_is_normal(frame: Frame, seen: States, index: int, reading: Reading) -> None:
    """Switches that are closed when all is well may be listed or not."""
    if frame.kind == "switch" and reading.cell is not None:
        for cell in frame.matrix.fitted:
            if cell.notes.rest == "closed" and cell.key != reading.cell and cell.key not in reading.held:
                sensed, driven = frame.at(cell.key)
                seen[sensed, index, driven] = UNKNOWN


ALWAYS = 0.9
"""Share of the readings that don't command a lighting string in which it shows, if nothing switches it off."""


def _forget_lit_strings(frame: Frame, seen: States, commands: Sequence[Command]) -> None:
    """What lists of lighting lamps don't say. Where nobody ever lists another lamp of the commanded string, those
    aren't looked at. Where every string shows although it isn't commanded, nothing switches the lighting off, and only
    the lamp that was judged says anything."""
    driven = np.array([-1 if cell is None else frame.at(cell)[1] for cell, _ in commands])
    commanded = np.arange(frame.shape[1])[:, None] == driven
    judged = np.zeros(seen.shape, dtype=np.bool_)
    for index, (cell, _) in enumerate(commands):
        if cell is not None:
            judged[frame.at(cell)[0], index, frame.at(cell)[1]] = True
    others = (seen != DARK) & (seen != UNKNOWN) & ~judged
    lit = others.any(axis=0).T
    if not (lit & commanded).any():
        seen[~judged & commanded.T[None]] = UNKNOWN
    if all(_always(string[~own]) and _always(string[driven < 0]) for string, own in zip(lit, commanded, strict=True)):
        seen[~judged] = UNKNOWN


def _always(lit: Bools) -> bool:
    return not lit.size or bool(lit.mean() >= ALWAYS)


class _Laid(NamedTuple):
    """The arrays of `Evidence` while readings are laid out."""

    exercises: Exercises
    seen: States
    exercised: States
    code: NDArray[np.uint8 | np.int32]


def _weighed(frame: Frame, laid: _Laid, weights: Floats, readings: Sequence[Reading]) -> Evidence:
    """`weights[predicted, code]`: log P(seen | predicted) for dark, faint, on, glow, by the codes of places."""
    dark, faint, on, glow = weights
    best = np.maximum(np.maximum(dark, on), dark if frame.kind == "switch" else faint)
    warm = frame.warm_leds > 0
    of_warm = _counted(laid.code, warm, len(dark))
    others = _counted(laid.code, ~warm, len(dark))
    return Evidence(
        exercises=laid.exercises,
        seen=laid.seen,
        exercised=laid.exercised,
        base=float(((of_warm + others) * dark).sum()),
        table=np.stack([np.zeros_like(dark), faint - dark, on - dark, glow - dark]),
        code=laid.code,
        ceiling=float((others * best + of_warm * np.maximum(best, glow)).sum()),
        readings=tuple(readings),
        blew=any(reading.blew for reading in readings),
        lit=np.take(on - dark, laid.code) if laid.code.size <= PART_PLACES else None,
    )


def _counted(code: NDArray[np.uint8 | np.int32], cells: Bools, count: int) -> Ints:
    """How often each code stands at the cells that are set, by (sensed, driven); line by line, as counting makes large
    numbers of small ones."""
    found = np.zeros(count, dtype=np.int64)
    for line, wanted in zip(code, cells, strict=True):
        found += np.bincount(line[:, wanted].ravel(), minlength=count)
    return found
