"""The explanations of all regions together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.explanation.explanations import MOST, Story
from matrixcheck.diagnosis.inference.posterior import Solution

DIGITS = 9
"""Decimals of a probability that are given: those behind it are rounding, and differ from machine to machine."""


class Region(NamedTuple):
    """What was searched by itself, with what was found there."""

    solution: Solution
    stories: tuple[Story, ...]


Told = tuple[float, tuple[tuple[Region, Story], ...]]
"""A probability, and one story of each region."""


def together(regions: Sequence[Region]) -> tuple[Told, ...]:
    """The likeliest explanations of all regions at once, best first."""
    found: list[Told] = [(1.0, ())]
    for region in regions:
        longer = [
            (chance * story.probability, (*picks, (region, story)))
            for chance, picks in found
            for story in region.stories
        ]
        found = sorted(longer, key=_order)[:MOST]
    return tuple(found)


def _order(told: Told) -> tuple[float, tuple[str, ...]]:
    """Likeliest first; what is as likely but for rounding goes by name."""
    return -round(told[0], DIGITS), tuple(str(group.members[0]) for _, story in told[1] for group in story.groups)
