"""Cells as the scripts of the page get them: as JSON, with the signs and words of their marks."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import whereabouts
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.job_state import JobState
from matrixcheck.report.glyphs import DEFERRED, GLYPHS, INTERMITTENT
from matrixcheck.tui.round_steps import entered_since

SIGNS = {str(mark): GLYPHS[mark] for mark in Mark} | {"unsteady": INTERMITTENT, "later": DEFERRED}


def cell_data(cell: Cell, standing: Standing, about: str, entered: bool) -> Mapping[str, Any]:
    """Return a cell for a script, with how to find it; `entered`: the open round has kept something of it."""
    return {
        "address": cell.key.address,
        "number": str(cell.number),
        "name": cell.name,
        "about": about,
        "reach": cell.notes.reach,
        "mark": str(standing.mark),
        "later": standing.deferred is not None,
        "unsteady": standing.intermittent,
        "due": standing.retest_due is not None,
        "entered": entered,
    }


def cells_data(state: JobState, keys: Collection[CellKey]) -> tuple[Mapping[str, Any], ...]:
    """Return cells of a job for a script, as they stand now."""
    entered = entered_since(state, state.round.seq) if state.round is not None else frozenset()
    found = ((state.standings[key].cell, state.standings[key]) for key in keys if key in state.standings)
    return tuple(
        cell_data(cell, standing, " · ".join(whereabouts(cell, state.layout)), cell.key in entered)
        for cell, standing in found
    )
