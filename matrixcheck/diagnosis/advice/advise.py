"""Propose cells to exercise and bench checks after a diagnosis, with the forward model behind them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.advice.coverage import under_test
from matrixcheck.diagnosis.advice.hold_rounds import Exposed, HoldRound, hold_plan
from matrixcheck.diagnosis.advice.next_tests import Exercise, Outcome, hypotheses, next_tests
from matrixcheck.diagnosis.evidence.exercises import Exercises, exercises_of
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Shares
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Setting, condition_of
from matrixcheck.diagnosis.forward.simulate import Shown, next_shown, shows
from matrixcheck.diagnosis.inference.problem import acts_in
from matrixcheck.diagnosis.machine.candidates import Candidate, as_candidate
from matrixcheck.diagnosis.machine.matrix_frame import BATCH_PLACES, Bools, Frame
from matrixcheck.diagnosis.result import BenchCheck, Explanation, Fault, FaultClass, NextTest, Suspect
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

LIKELY = 0.005
"""Explanations and suspects less probable than this ask for no test or check of their own."""

LARGEST_PLANNED = 16
"""Hold rounds are planned for matrices of up to so many lines a side: checking them takes too long beyond."""


def advise(
    layout: Layout,
    readings: Sequence[Reading],
    explanations: Sequence[Explanation],
    suspects: Sequence[Suspect],
    shares: Shares,
    *,
    fitted: Fitted | None = None,
) -> tuple[tuple[NextTest, ...], tuple[BenchCheck, ...]]:
    """Propose exercises and bench checks for ranked explanations and their suspects.

    `shares[id]` weighs the members of a suspect against each other; `fitted[id]` says how each was fitted.
    """
    large = [matrix.id for matrix in layout.matrices if max(matrix.size) > LARGEST_PLANNED]
    likely = [each for each in explanations if each.probability >= LIKELY]
    ways = hypotheses(likely, suspects, shares, fitted=fitted, large=large)
    predict = Predictor(layout, readings).outcomes
    tests = next_tests(layout, readings, ways, predict, holds=hold_rounds(layout, readings))
    return tests, bench_checks(layout, _likely(explanations, suspects), shares)


def _likely(explanations: Sequence[Explanation], suspects: Sequence[Suspect]) -> list[Suspect]:
    """Return the likely suspects that stand in likely explanations, or in none.

    A suspect's own probability counts what it does without a trace beside the best one's faults: alone it misleads.
    """
    chances: dict[str, float] = {}
    for explanation in explanations:
        for name in explanation.suspects:
            chances[name] = chances.get(name, 0.0) + explanation.probability
    return [each for each in suspects if min(each.probability, chances.get(each.id, 1.0)) >= LIKELY]


def hold_rounds(layout: Layout, readings: Sequence[Reading]) -> tuple[HoldRound, ...]:
    """Return the hold rounds of every switch matrix under test, with the diodes that no reading has tested yet.

    The forward model says what a round exposes. Rounds without such diodes are left out.
    """
    small = [matrix for matrix in under_test(layout, readings) if max(matrix.size) <= LARGEST_PLANNED]
    found: list[HoldRound] = []
    for matrix in small:
        exposed = exposed_by(matrix)
        tested = _tested_diodes(matrix, readings, exposed)
        for each in hold_plan(matrix, exposed).rounds:
            left = tuple(cell for cell in each.exposes if cell not in tested)
            found += [HoldRound(each.held, left)] if left else []
    return tuple(found)


def _tested_diodes(matrix: Matrix, readings: Sequence[Reading], exposed: Exposed) -> frozenset[CellKey]:
    """Return the diodes whose short would have shown in a reading."""
    pressed: dict[tuple[CellKey, ...], set[CellKey]] = {}
    for reading in readings:
        if reading.matrix == matrix.id and reading.cell is not None and reading.answered is not None:
            pressed.setdefault(reading.held, set()).add(reading.cell)
    return frozenset(cell for held, cells in pressed.items() for cell in exposed(held, sorted(cells)))


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


class _Round(NamedTuple):
    """Hold exercises of one matrix: their places among all that were asked for, and what a healthy one shows."""

    frame: Frame
    places: tuple[int, ...]
    exercises: Exercises
    healthy: Shown


class Predictor:
    """Predict outcomes for `next_tests` by the forward model, after what was read.

    Exercises are laid out once and kept for all sets of faults.
    """

    def __init__(self, layout: Layout, readings: Sequence[Reading] = ()) -> None:
        self._layout = layout
        self._readings = readings
        self._asked: tuple[Exercise, ...] = ()
        self._rounds: tuple[_Round, ...] = ()
        self._found: dict[tuple[str, tuple[Candidate, ...], Setting], list[Outcome]] = {}

    def outcomes(
        self, faults: tuple[Fault, ...], exercises: Sequence[Exercise], setting: Setting = USUAL
    ) -> list[Outcome]:
        """Return one outcome an exercise, for a machine with all of the faults in that setting."""
        if self._asked != tuple(exercises):
            self._asked, self._rounds = tuple(exercises), tuple(self._lay_out(exercises))
            self._found.clear()
        found: dict[int, Outcome] = {}
        for each in self._rounds:
            found.update(zip(each.places, self._in_round(each, faults, setting), strict=True))
        return [found[place] for place in range(len(exercises))]

    def _in_round(self, asked: _Round, faults: tuple[Fault, ...], setting: Setting) -> list[Outcome]:
        """Return the outcomes in one matrix: once for all sets with the same faults in it."""
        name = asked.frame.matrix.id
        laid = tuple(each for each in map(as_candidate, faults) if acts_in(each, name))
        key = name, laid, setting
        if key not in self._found:
            shown = next_shown(asked.frame, condition_of(asked.frame, laid, setting), asked.exercises)
            self._found[key] = _outcomes(asked, shown)
        return self._found[key]

    def _lay_out(self, exercises: Sequence[Exercise]) -> list[_Round]:
        rounds = []
        for matrix_id in dict.fromkeys(exercise.matrix for exercise in exercises):
            frame = Frame(self._layout.matrix(matrix_id))
            places = tuple(place for place, each in enumerate(exercises) if each.matrix == matrix_id)
            laid = exercises_of(frame, [(exercises[place].cell, exercises[place].held) for place in places])
            made = [each.cell for each in self._readings if each.matrix == matrix_id and each.answered is not None]
            earlier = [frame.rest_slot if cell is None else frame.at(cell)[1] for cell in made]
            laid = laid._replace(earlier=frozenset(earlier))
            rounds.append(_Round(frame, places, laid, shows(frame, condition_of(frame, ()), laid)))
        return rounds


def _outcomes(asked: _Round, shown: Shown) -> list[Outcome]:
    on, due = _on(shown), _on(asked.healthy)
    count = len(asked.places)
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
    return [frozenset(found[place]) if place in found else nothing for place in range(len(asked.places))]
