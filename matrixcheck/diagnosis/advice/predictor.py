"""Predict what exercises would show, and which diodes they test, by the forward model.

What was predicted is remembered from one answer to the next: exercises that stay the same are asked again after every
mark.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.advice.bench_checks.ranking import Splits
from matrixcheck.diagnosis.advice.hold_rounds import Exposed, HoldPlan, hold_plan
from matrixcheck.diagnosis.advice.next_tests import Exercise, Outcome
from matrixcheck.diagnosis.evidence.exercises import Exercises, exercises_of
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Setting, condition_of
from matrixcheck.diagnosis.forward.simulate import Shown, next_shown, shows
from matrixcheck.diagnosis.inference.kept import Latest
from matrixcheck.diagnosis.inference.problem import acts_in
from matrixcheck.diagnosis.machine.candidates import Candidate, as_candidate, laid_out
from matrixcheck.diagnosis.machine.matrix_frame import BATCH_PLACES, Bools, Frame
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

MOST_OUTCOMES = 256
"""So many sets of faults are remembered with the outcomes of one matrix: an answer asks for 64 at most, and each takes
some 30 KB for an 8x8 matrix."""


class _Round(NamedTuple):
    """Hold exercises of one matrix with what a healthy one shows.

    `outcomes`: those that were predicted of faulty ones, by faults and setting.
    """

    frame: Frame
    exercises: Exercises
    healthy: Shown
    outcomes: dict[tuple[tuple[Candidate, ...], Setting], list[Outcome]]


class Remembered:
    """Hold the last predictions for one layout, and the checks of its suspects; they save work and change no answer."""

    def __init__(self) -> None:
        self.rounds: Latest[_Round] = Latest()
        self.plans: Latest[tuple[HoldPlan, Exposed]] = Latest()
        self.exposed: Latest[tuple[CellKey, ...]] = Latest()
        self.splits: Splits = {}


class Predictor:
    """Predict outcomes for `next_tests` by the forward model, after what was read."""

    def __init__(
        self,
        layout: Layout,
        readings: Sequence[Reading] = (),
        remembered: Remembered | None = None,
        *,
        stays_lit: Collection[Fault] = (),
    ) -> None:
        """Take a layout and its readings; `stays_lit`: relays that keep lighting fed, whatever else is there."""
        self._layout = layout
        self._stays_lit = {fault.lines[0].matrix: as_candidate(fault) for fault in stays_lit}
        self._readings = readings
        self._remembered = remembered or Remembered()
        self._asked: tuple[Exercise, ...] = ()
        self._rounds: tuple[tuple[list[int], _Round], ...] = ()

    def outcomes(
        self, faults: tuple[Fault, ...], exercises: Sequence[Exercise], setting: Setting = USUAL
    ) -> list[Outcome]:
        """Return one outcome an exercise, for a machine with all of the faults in that setting."""
        if self._asked != tuple(exercises):
            self._asked, self._rounds = tuple(exercises), tuple(self._laid_out(exercises))
        found: dict[int, Outcome] = {}
        for places, asked in self._rounds:
            found.update(zip(places, self._outcomes_in(asked, faults, setting), strict=True))
        return [found[place] for place in range(len(exercises))]

    def _laid_out(self, exercises: Sequence[Exercise]) -> Iterator[tuple[list[int], _Round]]:
        """Yield the exercises by matrix, with their places among all of them."""
        for matrix_id in dict.fromkeys(exercise.matrix for exercise in exercises):
            places = [place for place, each in enumerate(exercises) if each.matrix == matrix_id]
            yield places, self._round(matrix_id, [(exercises[place].cell, exercises[place].held) for place in places])

    def _round(self, matrix_id: str, commands: list[tuple[CellKey | None, tuple[CellKey, ...]]]) -> _Round:
        made = [each.cell for each in self._readings if each.matrix == matrix_id and each.answered is not None]
        frame = Frame(self._layout.matrix(matrix_id))
        earlier = frozenset(frame.rest_slot if cell is None else frame.at(cell)[1] for cell in made)
        known = self._remembered.rounds.get(matrix_id, (commands, earlier))
        if known is None:
            laid = exercises_of(frame, commands)._replace(earlier=earlier)
            known = _Round(frame, laid, shows(frame, condition_of(frame, ()), laid), {})
            self._remembered.rounds.put(matrix_id, (commands, earlier), known)
        return known

    def _outcomes_in(self, asked: _Round, faults: tuple[Fault, ...], setting: Setting) -> list[Outcome]:
        """Return the outcomes in one matrix: once for all sets with the same faults in it."""
        name = asked.frame.matrix.id
        setting = setting._replace(spared=frozenset())  # what comes next comes after the fuse went
        laid = tuple(each for fault in faults if acts_in(each := laid_out(self._layout, fault), name))
        if name in self._stays_lit and self._stays_lit[name] not in laid:
            laid = (*laid, self._stays_lit[name])
        if (laid, setting) not in asked.outcomes:
            if len(asked.outcomes) >= MOST_OUTCOMES:
                asked.outcomes.clear()
            shown = next_shown(asked.frame, condition_of(asked.frame, laid, setting), asked.exercises)
            asked.outcomes[laid, setting] = _outcomes(asked, shown)
        return asked.outcomes[laid, setting]


def plan_of(matrix: Matrix, remembered: Remembered) -> tuple[HoldPlan, Exposed]:
    """Return the hold rounds of a switch matrix, and the function that says what a round exposes."""
    known = remembered.plans.get(matrix.id, None)
    if known is None:
        exposed = exposed_by(matrix)
        known = hold_plan(matrix, exposed), exposed
        remembered.plans.put(matrix.id, None, known)
    return known


def tested_diodes(
    matrix: Matrix, readings: Sequence[Reading], exposed: Exposed, remembered: Remembered
) -> frozenset[CellKey]:
    """Return the diodes whose short would have shown in a reading."""
    pressed: dict[tuple[CellKey, ...], set[CellKey]] = {}
    for reading in readings:
        if reading.matrix == matrix.id and reading.cell is not None and reading.answered is not None:
            pressed.setdefault(reading.held, set()).add(reading.cell)
    found: set[CellKey] = set()
    for held, each in pressed.items():
        cells = tuple(sorted(each))
        known = remembered.exposed.get((matrix.id, held), cells)
        if known is None:
            known = tuple(exposed(held, cells))
            remembered.exposed.put((matrix.id, held), cells, known)
        found.update(known)
    return frozenset(found)


def exposed_by(matrix: Matrix) -> Exposed:
    """Return a function from held and pressed cells to the pressed ones whose shorted diode would show."""
    frame = Frame(matrix)
    healthy = condition_of(frame, ())
    resting = {cell.key for cell in matrix.fitted if cell.notes.rest == "closed"}

    def exposed(held: Sequence[CellKey], cells: Sequence[CellKey]) -> list[CellKey]:
        """Return the cells whose diode, shorted, would show.

        A diode conducts nowhere while its switch is open: all of those that just one exercise closes are shorted at
        once.
        """
        shut = resting.union(held)
        found: list[CellKey] = []
        pressed = [cell for cell in cells if cell not in shut]
        step = max(1, BATCH_PLACES // frame.fitted.size)
        runs = (pressed[first : first + step] for first in range(0, len(pressed), step))
        for together in (*runs, *([cell] for cell in cells if cell in shut)):
            exercises = exercises_of(frame, [(cell, held) for cell in together])
            shorted = [Candidate(FaultClass.DIODE_SHORTED, None, (), (cell,)) for cell in together]
            differ = shows(frame, condition_of(frame, shorted), exercises).on != shows(frame, healthy, exercises).on
            found += [cell for cell, shown in zip(together, differ.any(axis=(0, 2)), strict=True) if shown]
        return found

    return exposed


def _outcomes(asked: _Round, shown: Shown) -> list[Outcome]:
    on, due = _on(shown), _on(asked.healthy)
    count = len(asked.exercises.slot)
    answers = [place[0] >= 0 and bool(on[place[0], i, place[1]]) for i, place in enumerate(asked.exercises.commanded)]
    others, missing = _by_exercise(asked, on & ~due), _by_exercise(asked, due & ~on)
    faint = [frozenset[CellKey]()] * count if shown.faint is None else _by_exercise(asked, shown.faint)
    return [Outcome(*each) for each in zip(answers, others, faint, missing, strict=True)]


def _on(shown: Shown) -> Bools:
    return shown.on if shown.glow is None else shown.on | shown.glow


def _by_exercise(asked: _Round, shown: Bools) -> list[frozenset[CellKey]]:
    """Return the cells that are set, for each exercise, without the exercised one."""
    found: dict[int, set[CellKey]] = {}
    for sensed, place, driven in np.argwhere(shown).tolist():
        if (sensed, driven) != asked.exercises.commanded[place]:
            found.setdefault(place, set()).add(asked.frame.cell_at(sensed, driven))
    nothing = frozenset[CellKey]()
    return [frozenset(found[place]) if place in found else nothing for place in range(len(asked.exercises.slot))]
