"""Propose cells to exercise and bench checks after a diagnosis, with the forward model behind them."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.advice.coverage import under_test
from matrixcheck.diagnosis.advice.hold_rounds import HoldRound
from matrixcheck.diagnosis.advice.next_tests import hypotheses, next_tests
from matrixcheck.diagnosis.advice.predictor import Predictor, Remembered, plan_of, tested_diodes
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Shares
from matrixcheck.diagnosis.machine.priors import Rates, shipped_rates
from matrixcheck.diagnosis.result import BenchCheck, Explanation, NextTest, Suspect
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
    predict = Predictor(layout, readings, remembered).outcomes
    wrong, holds = (rates or shipped_rates()).reading.wrong_mark, hold_rounds(layout, readings, remembered)
    tests = next_tests(layout, readings, ways, predict, holds=holds, wrong=wrong)
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
