"""Combine the explanations of all regions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.explanation.explanations import MOST_EXPLANATIONS, RegionExplanation
from matrixcheck.diagnosis.inference.posterior import Solution

DIGITS = 9
"""Decimals of a probability that are given: further ones are rounding, and differ from machine to machine."""


class Region(NamedTuple):
    """Hold a region's solution and its explanations."""

    solution: Solution
    explanations: tuple[RegionExplanation, ...]


Combination = tuple[float, tuple[tuple[Region, RegionExplanation], ...]]
"""A probability, and one explanation of each region."""


def combined(regions: Sequence[Region]) -> tuple[Combination, ...]:
    """Return the likeliest combinations of one explanation a region, best first, up to `MOST_EXPLANATIONS`."""
    found: list[Combination] = [(1.0, ())]
    for region in regions:
        longer = [
            (chance * explanation.probability, (*picks, (region, explanation)))
            for chance, picks in found
            for explanation in region.explanations
        ]
        found = sorted(longer, key=_order)[:MOST_EXPLANATIONS]
    return tuple(found)


def _order(combination: Combination) -> tuple[float, tuple[str, ...]]:
    """Return a sort key, likeliest first; ties but for rounding go by name."""
    probability, picks = combination
    return -round(probability, DIGITS), tuple(str(group.members[0]) for _, one in picks for group in one.groups)
