"""Glow that is normal on a machine: an LED on a keep-warm resistor, say. Readings are judged without it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


def without_glow(readings: Iterable[Reading], accepted: frozenset[CellKey]) -> tuple[Reading, ...]:
    """Return readings without the glow of accepted cells: they show in rest scans and beside others, and mean nothing.

    What a reading says of the exercise of such a cell stays.
    """
    return tuple(_without(readings, accepted)) if accepted else tuple(readings)


def _without(readings: Iterable[Reading], accepted: frozenset[CellKey]) -> Iterator[Reading]:
    for one in readings:
        if one.cell in accepted and one.mark is Mark.STUCK:
            continue
        glow = accepted - {one.cell}
        answered = None if one.answered is None else tuple(key for key in one.answered if key not in glow)
        faint = tuple(key for key in one.faint if key not in glow)
        same = answered == one.answered and faint == one.faint
        yield one if same else replace(one, answered=answered, faint=faint)
