"""The fills of marks against the Okabe-Ito colour set, which people with any colour vision tell apart.

Source: Okabe and Ito's colour set. Status: memory, widely published.
"""

from __future__ import annotations

from itertools import combinations

from matrixcheck.report.glyphs import FILLS, GLYPHS

OKABE_ITO = {"#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7", "#000000"}


def test_every_fill_is_of_the_set_and_no_two_marks_share_one() -> None:
    fills = [fill.upper() for fill in FILLS.values() if fill]
    assert set(fills) <= OKABE_ITO
    assert len(set(fills)) == len(fills) == 3


def test_no_mark_is_told_by_its_colour_alone() -> None:
    assert all(GLYPHS[one] != GLYPHS[other] for one, other in combinations(GLYPHS, 2))
