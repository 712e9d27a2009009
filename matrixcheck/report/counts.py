"""Counts of a report: as the record has them, but what glows by itself in a good machine is not called stuck."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, FaultClass
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.cell_state import Standings
from matrixcheck.record.job_state import JobState

HARMLESS_FROM = 0.5
"""The probability from which on a glow counts as no fault."""


class Counts(NamedTuple):
    """Cells by how they stand: all but the last three add up to `total`.

    `glowing` ones light by themselves, which is no fault, and were seen no other way. Cells to be tested again count as
    untested.
    """

    working: int
    dead: int
    stuck: int
    glowing: int
    untested: int
    retest_due: int
    deferred: int
    total: int

    @property
    def tested(self) -> int:
        """Return how many cells are tested."""
        return self.total - self.untested

    @property
    def says(self) -> str:
        """Return the counts in a sentence piece that always names what is untested."""
        named = (
            (self.working, "working"),
            (self.dead, "dead"),
            (self.stuck, "stuck"),
            (self.glowing, "glowing, no fault"),
        )
        return ", ".join([*(f"{count} {what}" for count, what in named if count), f"{self.untested} untested"])


def glowing_cells(diagnosis: Diagnosis, standings: Standings) -> frozenset[CellKey]:
    """Return the cells that stand stuck only because they glow by themselves, which is no fault.

    These are those that the diagnosis takes for it, and those that were accepted as normal here.
    """
    accepted = frozenset(key for key, standing in standings.items() if standing.normal)
    return accepted | frozenset(
        key
        for suspect in diagnosis.suspects
        if suspect.probability >= HARMLESS_FROM
        for fault in suspect.members
        if fault.fault is FaultClass.KEEP_WARM_GLOW
        for key in fault.cells
        if standings[key].mark is Mark.STUCK
    )


def counted(state: JobState, glowing: frozenset[CellKey]) -> Mapping[str, Counts]:
    """Return counts by matrix id, in the layout's order."""
    return {
        matrix.id: _counts(state.standings, glowing, [cell.key for cell in matrix.fitted])
        for matrix in state.layout.matrices
    }


def in_all(counts: Iterable[Counts]) -> Counts:
    """Return the sums over all matrices."""
    return Counts(*map(sum, zip(*counts, strict=True)))


def _counts(standings: Standings, glowing: frozenset[CellKey], keys: list[CellKey]) -> Counts:
    marks = ["glowing" if key in glowing else str(standings[key].mark) for key in keys]
    return Counts(
        working=marks.count("working"),
        dead=marks.count("dead"),
        stuck=marks.count("stuck"),
        glowing=marks.count("glowing"),
        untested=marks.count("untested"),
        retest_due=sum(standings[key].retest_due is not None for key in keys),
        deferred=sum(standings[key].deferred is not None for key in keys),
        total=len(keys),
    )
