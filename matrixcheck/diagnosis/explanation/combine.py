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
    names = {id(one): _names(one) for region in regions for one in region.explanations}

    def order(combination: Combination) -> tuple[float, tuple[str, ...]]:
        """Return a sort key, likeliest first; ties but for rounding go by name."""
        probability, picks = combination
        return -round(probability, DIGITS), tuple(name for _, one in picks for name in names[id(one)])

    found: list[Combination] = [(1.0, ())]
    for region in regions:
        longer = [
            (chance * explanation.probability, (*picks, (region, explanation)))
            for chance, picks in found
            for explanation in region.explanations
        ]
        found = sorted(longer, key=order)[:MOST_EXPLANATIONS]
    return tuple(found)


def _names(explanation: RegionExplanation) -> tuple[str, ...]:
    return tuple(str(group.members[0]) for group in explanation.groups)
