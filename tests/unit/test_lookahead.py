"""Looking one test further: what is left after a test and the best next one, against plain counting."""

from __future__ import annotations

import random
from math import log2

import pytest

from matrixcheck.diagnosis.advice.lookahead import left_after_two


def entropy(weights: dict[int, float]) -> float:
    total = sum(weights.values())
    return -sum(weight * log2(weight / total) for weight in weights.values() if weight > 0)


def left(shown: list[int]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for at in range(len(shown)):
        found.setdefault(shown[at], []).append(at)
    return found


def by_cause(weights: list[float], causes: list[int], there: list[int]) -> dict[int, float]:
    found: dict[int, float] = {}
    for at in there:
        found[causes[at]] = found.get(causes[at], 0.0) + weights[at]
    return found


@pytest.mark.parametrize("seed", range(8))
def test_what_is_left_is_what_counting_every_part_gives(seed: int) -> None:
    rng = random.Random(f"lookahead {seed}")
    count = rng.randint(2, 9)
    drawn = [rng.random() for _ in range(count)]
    weights = [each / sum(drawn) for each in drawn]
    causes = [rng.randrange(4) for _ in range(count)]
    outcomes = [[rng.randrange(3) for _ in range(count)] for _ in range(5)]

    def best_next(there: list[int]) -> float:
        if len({causes[at] for at in there}) < 2:
            return 0.0
        splits = [
            sum(
                entropy(by_cause(weights, causes, [at for at in there if row[at] == code]))
                for code in {row[at] for at in there}
            )
            for row in outcomes
        ]
        return min(splits) + sum(weights[at] for at in there)

    wanted = [sum(map(best_next, left(row).values())) for row in outcomes]
    assert left_after_two(weights, causes, outcomes, range(5)) == pytest.approx(wanted, rel=1e-9, abs=1e-12)


def test_a_test_that_leaves_nothing_leaves_nothing() -> None:
    assert left_after_two([0.5, 0.25, 0.25], [0, 1, 2], [[0, 1, 2], [0, 0, 1]], [0, 1]) == pytest.approx(
        [0.0, 0.75], rel=1e-12, abs=1e-12
    )
