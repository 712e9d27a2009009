"""One job as its screens see it: the bench behind it, its state as last read, and what is drawn from that."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping

from matrixcheck.bench import Bench, Kept, Undone
from matrixcheck.layout.model import Cell, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.record.entry import parse_places
from matrixcheck.record.events import RoundKind, WalkManner
from matrixcheck.record.replay import JobState
from matrixcheck.tui.text.tabs import Tally
from matrixcheck.tui.text.tile import Face, Light, face_of


class Desk:
    """One job. Every change goes through the bench first; `state` is what the journal then says."""

    def __init__(self, bench: Bench, job: str, clock: Callable[[], float] = time.monotonic) -> None:
        """`clock` gives seconds that only ever grow; the beat of a walk is kept by it. `own_checks` before power have
        been named, and wait until they are made."""
        self.bench = bench
        self.clock = clock
        self.state: JobState = bench.state(job)
        self.own_checks: tuple[str, ...] = ()

    @property
    def job(self) -> str:
        """The job's id."""
        return self.state.id

    @property
    def layout(self) -> Layout:
        """The machine."""
        return self.state.layout

    def mark(self, matrix: Matrix, text: str) -> tuple[Kept, ...]:
        """Keep an entry. Raises MatrixCheckError, and then nothing was kept."""
        kept = self.bench.mark(self.job, matrix.id, text)
        self.reload()
        return kept

    def undo(self) -> Undone:
        """Take back the last entry."""
        undone = self.bench.undo(self.job)
        self.reload()
        return undone

    def faint(self, matrix: Matrix, cell: Cell, text: str) -> tuple[Kept, ...]:
        """Keep that a cell was lit and those that `text` names glowed faintly with it."""
        reading = Reading(matrix=matrix.id, cell=cell.key, answered=(cell.key,), faint=parse_places(text, matrix))
        kept = self.bench.take_readings(self.job, [reading])
        self.reload()
        return kept

    def defer(self, cell: Cell, reason: str) -> tuple[Kept, ...]:
        """Put a cell off for a reason."""
        kept = self.bench.defer(self.job, [cell.key], reason)
        self.reload()
        return kept

    def start_round(
        self,
        matrix: Matrix,
        kind: RoundKind,
        held: Iterable[CellKey] = (),
        *,
        cells: Iterable[CellKey] = (),
        manner: WalkManner = "stepped",
    ) -> None:
        """Begin a round."""
        self.bench.start_round(self.job, matrix.id, kind, held, cells=cells, manner=manner)
        self.reload()

    def pace(self, seconds: float, place: int, paused: bool) -> None:
        """Keep the beat of a walk, so that it can be taken up again."""
        self.bench.pace(self.job, seconds, place, paused)
        self.reload()

    def end_round(self) -> None:
        """End the open round, if there is one."""
        if self.state.round is not None:
            self.bench.end_round(self.job)
        self.reload()

    def rest_scan(self, matrix: Matrix, text: str) -> None:
        """Keep a rest scan of the places that `text` names."""
        self.bench.rest_scan(self.job, matrix.id, text)
        self.reload()

    def reload(self) -> None:
        """Read what the journal says now."""
        self.state = self.bench.state(self.job)

    def faces(self, matrix: Matrix, lit: Mapping[CellKey, Light]) -> dict[CellKey, Face]:
        """What each cell of a matrix shows."""
        return {cell.key: face_of(cell, matrix, self.state.standings, lit.get(cell.key)) for cell in matrix.fitted}

    def tallies(self) -> tuple[Tally, ...]:
        """How far each matrix is tested."""
        status = self.bench.status(self.job)
        return tuple(
            Tally(matrix_id, matrix_id, one.total - one.untested, one.total) for matrix_id, one in status.items()
        )
