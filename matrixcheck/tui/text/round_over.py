"""What a round came to: tested, dead, put off, and what is no longer what it was."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standing, Standings

NAMED = 6
"""Cells that are named before the others are only counted."""


def marks_of(cells: Sequence[Cell], standings: Standings) -> dict[CellKey, Mark]:
    """Return what cells are, or were before a repair made their retest due."""
    found = (standings[cell.key] for cell in cells)
    return {one.cell.key: one.before_repair or one.mark for one in found}


def round_words(
    cells: Sequence[Cell], entered: Collection[CellKey], before: Mapping[CellKey, Mark], standings: Standings
) -> str:
    """Return what a round came to, nothing where it entered nothing; `before` is what its cells were."""
    spoken = [standings[cell.key] for cell in cells if cell.key in entered]
    if not spoken:
        return ""
    later = [one for one in spoken if one.deferred is not None]
    tested = [one for one in spoken if one.mark is not Mark.UNTESTED and one.deferred is None]
    counts = [f"{len(tested)} tested", *(_counted(tested, mark) for mark in (Mark.DEAD, Mark.STUCK))]
    if later:
        counts.append(f"{len(later)} put off ({_numbers(later)})")
    changed = [one for one in tested if before.get(one.cell.key, Mark.UNTESTED) not in (Mark.UNTESTED, one.mark)]
    since = ", ".join(f"{one.cell.number} was {before[one.cell.key]}, is {one.mark}" for one in changed[:NAMED])
    more = f" and {len(changed) - NAMED} more" if len(changed) > NAMED else ""
    news = f" Changed since last time: {since}{more}." if changed else ""
    return f"The round: {', '.join(filter(None, counts))}.{news}"


def _counted(tested: Sequence[Standing], mark: Mark) -> str:
    found = [one for one in tested if one.mark is mark]
    return f"{len(found)} {mark} ({_numbers(found)})" if found else ""


def _numbers(found: Sequence[Standing]) -> str:
    more = " …" if len(found) > NAMED else ""
    return f"{' '.join(str(one.cell.number) for one in found[:NAMED])}{more}"
