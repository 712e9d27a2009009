"""The rounds: which suit a matrix, and what the script of one needs to know."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from matrixcheck.layout.limits import STEP_SECONDS
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.coil_lock import is_coil_fuse
from matrixcheck.record.events import RoundKind, WalkManner
from matrixcheck.record.job_state import JobState, Round
from matrixcheck.report.later import set_ups
from matrixcheck.report.retests import closing_words, repairs_of
from matrixcheck.report.rounds import UNCHECKED, Sort, caution_for, held_together, sorts_for
from matrixcheck.report.safety import failed_lines
from matrixcheck.report.stop import notice
from matrixcheck.tui.round_steps import awaiting_retest, order_of
from matrixcheck.web.page.screens.cells import SIGNS, cells_data

KINDS: Mapping[str, tuple[RoundKind, WalkManner]] = {
    "roll": ("roll", "stepped"),
    "walk": ("walk", "stepped"),
    "timed": ("walk", "paced"),
    "all": ("walk", "all-lit"),
    "rest": ("rest", "stepped"),
    "hold": ("hold", "stepped"),
}
"""What the journal calls each sort of round, and the manner of a walk."""


@dataclass(frozen=True)
class ChooseScreen:
    """The sorts of round for a matrix or some of its cells, with what must be said before one starts."""

    job: str
    job_name: str
    matrix: str
    heading: str
    sorts: Sequence[Sort]
    query: str
    cautions: Sequence[str]
    dangers: Sequence[str]


@dataclass(frozen=True)
class RoundScreen:
    """One round; `data` is for its script. `dangers` and `cautions` stand at its start."""

    job: str
    job_name: str
    matrix: str
    sort: str
    name: str
    letters: Sequence[str]
    dangers: Sequence[str]
    cautions: Sequence[str]
    data: Mapping[str, Any]


@dataclass(frozen=True)
class ChooseHoldScreen:
    """Which switches to keep closed: the sets that the analyser would hold; `refused` says what can't be held."""

    job: str
    job_name: str
    matrix: str
    letters: Sequence[str]
    sets: Sequence[Sequence[Cell]]
    refused: str
    cautions: Sequence[str]


@dataclass(frozen=True)
class StopScreen:
    """A coil is on at rest, so that no round may go on; `fuse` says whether the coil fuse has to come out still."""

    job: str
    job_name: str
    seq: int
    says: str
    fuse: bool


def choose_screen(state: JobState, matrix: Matrix, cells: Sequence[CellKey]) -> ChooseScreen:
    """Return the sheet that stands before a round."""
    some = order_of(matrix, cells) if cells else ()
    what = f"{len(some)} {'cell' if len(some) == 1 else 'cells'} of {matrix.id}" if some else matrix.id
    return ChooseScreen(
        state.id,
        state.name,
        matrix.id,
        f"A round through {what}",
        sorts_for(matrix, bool(some)),
        f"?cells={'+'.join(cell.key.address for cell in some)}" if some else "",
        _cautions(state, matrix, cells),
        _dangers(state),
    )


def round_screen(
    state: JobState, matrix: Matrix, sort: str, cells: Sequence[CellKey], held: Sequence[CellKey]
) -> RoundScreen:
    """Return a round as its page shows it: the open one of this client where it is the same, else one to begin."""
    kind, manner = KINDS[sort]
    going_on = open_round(state, matrix, sort, cells, held)
    over = going_on.cells if going_on else tuple(cells)
    kept = going_on.held if going_on else tuple(held)
    order = order_of(matrix, over)
    name = next((one.name for one in sorts_for(matrix, False) if one.id == sort), sort)
    data = {
        "job": state.id,
        "matrix": matrix.id,
        "sort": sort,
        "kind": kind,
        "manner": manner,
        "client": state.client,
        "seq": state.seq,
        "round": going_on.seq if going_on else None,
        "pace": _pace(state, going_on),
        "over": [key.address for key in over],
        "held": [key.address for key in kept],
        "scanned": going_on is not None and _scanned(state, going_on),
        "closing": _closing(state, order, going_on.seq if going_on else state.seq),
        "cells": cells_data(state, [cell.key for cell in order]),
        "reasons": set_ups(state.layout),
        "signs": SIGNS,
        "closed": [cell.key.address for cell in matrix.fitted if cell.notes.rest == "closed"],
        "steps": [STEP_SECONDS.least, STEP_SECONDS.most],
    }
    return RoundScreen(
        state.id,
        state.name,
        matrix.id,
        sort,
        name,
        matrix.letters,
        _dangers(state),
        _cautions(state, matrix, over),
        data,
    )


def hold_screen(
    state: JobState, matrix: Matrix, held: Sequence[CellKey], proposed: Sequence[Sequence[CellKey]]
) -> ChooseHoldScreen:
    """Return the sheet on which the switches to hold are chosen; `held` is a set that was named, to say why not."""
    sets = [[matrix.by_key[key] for key in one if key in matrix.by_key] for one in proposed]
    return ChooseHoldScreen(
        state.id, state.name, matrix.id, matrix.letters, sets, held_together(matrix, held), _cautions(state, matrix, ())
    )


def stop_screen(state: JobState) -> StopScreen:
    """Return what is said in place of a round while a coil is on at rest."""
    return StopScreen(state.id, state.name, state.seq, notice(state.coils), state.coils.stop)


def open_round(
    state: JobState, matrix: Matrix, sort: str, cells: Sequence[CellKey], held: Sequence[CellKey]
) -> Round | None:
    """Return the client's open round where it is this one. With neither cells nor held switches named, any will do."""
    one = state.round
    if one is None or (one.matrix, one.kind, one.manner) != (matrix.id, *KINDS[sort]):
        return None
    same = (not cells or set(cells) == set(one.cells)) and (not held or set(held) == set(one.held))
    return one if same else None


def _dangers(state: JobState) -> tuple[str, ...]:
    return tuple(filter(None, (notice(state.coils), *failed_lines(state.safety))))


def _cautions(state: JobState, matrix: Matrix, cells: Sequence[CellKey]) -> tuple[str, ...]:
    caution = caution_for(matrix, order_of(matrix, cells))
    checked = any(not is_coil_fuse(one.item) for one in state.safety)
    return (caution,) if checked else (caution, UNCHECKED)


def _pace(state: JobState, one: Round | None) -> Mapping[str, Any] | None:
    """Return the timing that a timed walk was left with, and how long ago that is by the client's last event."""
    if one is None or one.pace is None:
        return None
    gone = 0.0 if one.pace.paused else (state.last_at - one.pace.at).total_seconds()
    return {"seconds": one.pace.seconds, "place": one.pace.place, "gone": gone}


def _closing(state: JobState, order: Sequence[Cell], since: int) -> tuple[str, ...]:
    """Return what the retests made in a round say of the repairs that they were due for."""
    repairs = repairs_of(state, awaiting_retest(order, state, since))
    return tuple(filter(None, (closing_words(state, repair) for repair in repairs)))


def _scanned(state: JobState, one: Round) -> bool:
    return any(scan.seq > one.seq and scan.reading.matrix == one.matrix for scan in state.rest_scans)
