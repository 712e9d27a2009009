"""The order of bench checks against the published rule for the least expected cost of a search.

Source: Johnson (1956), Mitten (1960): the least-cost sequence of checks goes by falling p/c. Status: computed;
attribution from memory. It holds where the last suspect is checked too, not where it is taken as proven by elimination.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from random import Random

import pytest

from matrixcheck.diagnosis.advice.bench_checks.ranking import order_by_yield


def expected_cost(order: Sequence[int], chances: Sequence[float], costs: Sequence[float]) -> float:
    """The mean cost until the fault is found, every suspect checked in turn until it is the one."""
    spent = total = 0.0
    for place in order:
        spent += costs[place]
        total += chances[place] * spent
    return total


def test_the_published_example_is_ordered_by_falling_probability_over_cost() -> None:
    chances, costs = (0.5, 0.3, 0.2), (10, 2, 1)
    assert order_by_yield(chances, costs) == (2, 1, 0)
    assert expected_cost((2, 1, 0), chances, costs) == pytest.approx(7.6, rel=1e-12, abs=0)
    assert expected_cost((0, 1, 2), chances, costs) == pytest.approx(11.2, rel=1e-12, abs=0)


def test_no_other_order_costs_less() -> None:
    random = Random(1956)
    for _ in range(50):
        weights = [random.random() for _ in range(5)]
        chances = [weight / sum(weights) for weight in weights]
        costs = [random.uniform(1, 10) for _ in range(5)]
        least = min(expected_cost(order, chances, costs) for order in permutations(range(5)))
        assert expected_cost(order_by_yield(chances, costs), chances, costs) == pytest.approx(least, rel=1e-9, abs=0)
