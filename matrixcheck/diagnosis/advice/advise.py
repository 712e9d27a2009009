"""Propose cells to exercise and bench checks after a diagnosis, with the forward model behind them."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.advice.coverage import under_test
from matrixcheck.diagnosis.advice.hold_rounds import HoldRound
from matrixcheck.diagnosis.advice.next_tests import hypotheses, next_tests
from matrixcheck.diagnosis.advice.predictor import Predictor, Remembered, plan_of, tested_diodes
from matrixcheck.diagnosis.evidence.lit_strings import unsure_relay
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Shares
from matrixcheck.diagnosis.machine.fault_notation import fault_at
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import Rates, shipped_rates
from matrixcheck.diagnosis.result import BenchCheck, Explanation, Fault, FaultClass, NextTest, Suspect
from matrixcheck.layout.model import Layout
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
    rates: Rates | None = None,
    fitted: Fitted | None = None,
    remembered: Remembered | None = None,
) -> tuple[tuple[NextTest, ...], tuple[BenchCheck, ...]]:
    """Propose exercises and bench checks for ranked explanations and their suspects.

    `shares[id]` weighs the members of a suspect against each other; `fitted[id]` says how each was fitted.
    `remembered`: what was predicted for earlier answers of the same layout. `rates`: those of the diagnosis, the
    shipped ones where none are given.
    """
    remembered = remembered or Remembered()
    large = [matrix.id for matrix in layout.matrices if max(matrix.size) > LARGEST_PLANNED]
    likely = [each for each in explanations if each.probability >= LIKELY]
    ways = hypotheses(likely, suspects, shares, fitted=fitted, large=large)
    of_readings, holds = (rates or shipped_rates()).reading, hold_rounds(layout, readings, remembered)
    stays_lit = lighting_that_stays_lit(layout, readings, of_readings.lighting_always_lit)
    predict = Predictor(layout, readings, remembered, stays_lit=stays_lit).outcomes
    tests = next_tests(layout, readings, ways, predict, holds=holds, wrong=of_readings.wrong_mark)
    return tests, bench_checks(layout, _likely(explanations, suspects), shares, known=remembered.splits)


def lighting_that_stays_lit(layout: Layout, readings: Sequence[Reading], always: float) -> tuple[Fault, ...]:
    """Return the relays that keep lighting fed, or look so because the test doesn't switch it.

    No exercise tells one from the other: whatever else is there, the strings stay lit. `always`: see `unsure_relay`.
    """
    found: list[Fault] = []
    for matrix in layout.matrices:
        its = [reading for reading in readings if reading.matrix == matrix.id]
        relay = unsure_relay(Frame(matrix), its, always)
        if relay is not None:
            found.append(fault_at(layout, FaultClass.RELAY_STUCK, part=relay, when="pulled"))
    return tuple(found)


def _likely(explanations: Sequence[Explanation], suspects: Sequence[Suspect]) -> list[Suspect]:
    """Return the likely suspects that stand in likely explanations, or in none.

    A suspect's own probability counts what it does without a trace beside the best one's faults: alone it misleads.
    """
    chances: dict[str, float] = {}
    for explanation in explanations:
        for name in explanation.suspects:
            chances[name] = chances.get(name, 0.0) + explanation.probability
    return [each for each in suspects if min(each.probability, chances.get(each.id, 1.0)) >= LIKELY]


def hold_rounds(
    layout: Layout, readings: Sequence[Reading], remembered: Remembered | None = None
) -> tuple[HoldRound, ...]:
    """Return the hold rounds of every switch matrix under test, with the diodes that no reading has tested yet.

    The forward model says what a round exposes. Rounds without such diodes are left out.
    """
    known = remembered or Remembered()
    small = [matrix for matrix in under_test(layout, readings) if max(matrix.size) <= LARGEST_PLANNED]
    found: list[HoldRound] = []
    for matrix in small:
        plan, exposed = plan_of(matrix, known)
        tested = tested_diodes(matrix, readings, exposed, known)
        for each in plan.rounds:
            left = tuple(cell for cell in each.exposes if cell not in tested)
            found += [HoldRound(each.held, left)] if left else []
    return tuple(found)
