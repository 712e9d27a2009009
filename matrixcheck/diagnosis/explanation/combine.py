"""The explanations of all regions together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.explanation.explanations import MOST, Posterior, Story
from matrixcheck.diagnosis.inference.problem import Problem


class Region(NamedTuple):
    """Matrices that were searched by themselves, with what was found there."""

    problem: Problem
    posterior: Posterior
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
        found = sorted(longer, key=lambda told: -told[0])[:MOST]
    return tuple(found)
