"""One job as its screens see it: its state as last read, what is drawn from that, and the way into its book.

Nothing here waits for the book. What is to be kept goes into the queue of `keeping`; once it is kept, `state` is what
the journal then says, and the screen is informed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.record.entry import parse_entries, parse_places
from matrixcheck.record.entry_events import events_of
from matrixcheck.record.events import RoundKind, WalkManner
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import coverage_of
from matrixcheck.record.validation import guard_held, guard_power, guard_round
from matrixcheck.tui.keeping import Entry, Keeping
from matrixcheck.tui.left_off import LeftOff, left_off
from matrixcheck.tui.text.refused import RefusedEntry
from matrixcheck.tui.text.suspects import Analysis
from matrixcheck.tui.text.tabs import Tally
from matrixcheck.tui.text.tile import Face, Light, face_of

Said = Callable[[Any], object]
Refused = Callable[[MatrixCheckError], object]
RoundLeft = Callable[[Callable[[], Sequence[str]]], object]
"""Gets a function that gives what a round that was left came to, once all of it is kept."""


class Outcome(NamedTuple):
    """What becomes of an entry: one of these is called, on the event loop, once it is kept or refused."""

    kept: Said
    refused: Refused


NOTHING = Outcome(lambda _: None, lambda _: None)
"""Nothing is to be said of it."""


class Desk:
    """One job. What is wrong with an entry by itself is raised at once, as a MatrixCheckError; the rest is queued."""

    def __init__(
        self,
        bench: Bench,
        job: str,
        keeping: Keeping,
        clock: Callable[[], float] = time.monotonic,
        left: dict[str, LeftOff] | None = None,
    ) -> None:
        """`clock` gives seconds that only ever grow; a walk is timed by it. `left` says where each job was left.

        `last_round` is what the last round came to. `own_checks` before power have been named, and wait until they are
        made; `refused` entries wait until they are put right or dropped. `round_began` is the event with which the
        round on the screens began, None while its start waits to be kept. `left_open` is whether a round was left open
        and no other began here: only that one is taken up, for what the journal holds open may be about to end.
        """
        self.bench = bench
        self.keeping = keeping
        self.clock = clock
        self.state: JobState = bench.state(job)
        self.left = ({} if left is None else left).setdefault(job, left_off(self.state))
        self.own_checks: tuple[str, ...] = ()
        self.last_round = ""
        self.refused: list[RefusedEntry] = []
        self.round_began: int | None = self.state.round.seq if self.state.round else None
        self.left_open = self.round_began is not None
        self._round = object()
        self._book = bench.path

    @property
    def version(self) -> tuple[Path, int]:
        """Return which state this is: its book, and the last event in it. Another book has numbers of its own."""
        return self._book, self.state.seq

    @property
    def elsewhere(self) -> str:
        """Return the name of the book, where the bench has moved to another one; else nothing."""
        return self._book.name if self.bench.moved else ""

    @property
    def job(self) -> str:
        """Return the job's id."""
        return self.state.id

    @property
    def layout(self) -> Layout:
        """Return the machine."""
        return self.state.layout

    def mark(self, matrix: Matrix, text: str, outcome: Outcome) -> tuple[CellKey, ...]:
        """Queue an entry; the cells that it speaks of."""
        entries = parse_entries(text, matrix)
        if not self.keeping.busy:
            for entry in entries:
                events_of(entry, self.state)
        self.queue(text, lambda: self.bench.mark(self.job, matrix.id, text), outcome)
        return tuple(entry.cell for entry in entries)

    def undo(self, outcome: Outcome, batch: int | None = None, *, since: int = 0, within: str = "") -> None:
        """Queue that the last entry is undone; where the book refuses entries, the last that waits is dropped instead.

        A book that is only slow is about to keep it: then it can't be dropped any more. `batch`, `since` and `within`
        as in the bench's own undo.
        """
        if self.keeping.trouble:
            self.keeping.drop_last()
        else:
            self.queue("undo", lambda: self.bench.undo(self.job, batch, since=since, within=within), outcome)

    def differed(self, cell: CellKey, outcome: Outcome) -> None:
        """Queue that a cell behaved differently: what the round corrected of it counts beside what it says now."""
        self.queue("both count", lambda: self.bench.differed(self.job, cell), outcome)

    def redo(self, outcome: Outcome) -> None:
        """Queue that the last undo is taken back."""
        self.queue("redo", lambda: self.bench.redo(self.job), outcome)

    def faint(self, matrix: Matrix, cell: Cell, text: str, outcome: Outcome) -> tuple[CellKey, ...]:
        """Queue that a cell was lit and those that `text` names glowed faintly with it."""
        reading = Reading(matrix=matrix.id, cell=cell.key, answered=(cell.key,), faint=parse_places(text, matrix))
        words = f"{cell.number} with {text} faint"
        self.queue(words, lambda: self.bench.take_readings(self.job, [reading]), outcome)
        return (cell.key,)

    def defer(self, cell: Cell, reason: str, outcome: Outcome) -> None:
        """Queue that a cell is put off for a reason."""
        self.queue(f"{cell.number}. {reason}", lambda: self.bench.defer(self.job, [cell.key], reason), outcome)

    def start_round(
        self,
        matrix: Matrix,
        kind: RoundKind,
        held: tuple[CellKey, ...] = (),
        *,
        cells: Iterable[CellKey] = (),
        manner: WalkManner = "stepped",
        outcome: Outcome,
        dropped: Callable[[], object],
    ) -> None:
        """Queue the start of a round."""
        over = tuple(cells)
        guard_power(self.state.coils, matrix, kind)
        guard_held(matrix, kind, held)
        guard_round(matrix, kind, over, manner)
        began = self._round = object()
        self.round_began = None
        self.left_open = False

        def started(_: object) -> None:
            if self._round is began:
                self.round_began = self.state.round.seq if self.state.round else self.state.seq
            outcome.kept(None)

        self.queue(
            f"start of a {kind} round" if kind == "hold" else f"start of a {kind}",
            lambda: self.bench.start_round(self.job, matrix.id, kind, held, cells=over, manner=manner),
            Outcome(started, outcome.refused),
            dropped,
        )

    def pace(self, seconds: float, place: int, paused: bool, outcome: Outcome) -> None:
        """Queue the timing of a walk, so that it can be taken up again."""
        self.queue("seconds a step", lambda: self.bench.pace(self.job, seconds, place, paused), outcome)

    def end_round(self, outcome: Outcome) -> None:
        """Queue the end of the open round, if there is one."""
        if self.state.round is not None or self.keeping.busy:
            self.queue("end of the round", lambda: self.bench.end_round(self.job), outcome)

    def rest_scan(self, matrix: Matrix, text: str, outcome: Outcome) -> None:
        """Queue a rest scan of the places that `text` names."""
        parse_places(text, matrix)
        self.queue(f"rest scan: {text or 'nothing'}", lambda: self.bench.rest_scan(self.job, matrix.id, text), outcome)

    def queue(
        self, words: str, keep: Callable[[], Any], outcome: Outcome, dropped: Callable[[], object] = lambda: None
    ) -> None:
        """Queue what `keep` keeps through the bench, in `words`. Once it is kept the state is the newest."""

        def kept_and_read() -> tuple[Any, JobState | None]:
            answer = keep()
            try:
                return answer, self.bench.state(self.job)
            except MatrixCheckError:
                # It is kept all the same: the next look at the book says what is wrong with that.
                return answer, None

        def kept(found: tuple[Any, JobState | None]) -> None:
            answer, state = found
            self.state = state or self.state
            outcome.kept(answer)

        self.keeping.add(Entry(self.job, words, kept_and_read, kept=kept, refused=outcome.refused, dropped=dropped))

    def moved(self, state: JobState) -> None:
        """Go on with the job's state in the book to which the bench has moved."""
        self._book, self.state = self.bench.path, state
        if self.round_began is not None and state.round is not None:
            self.round_began = state.round.seq

    async def reload(self) -> None:
        """Read what the journal says now. Raises MatrixCheckError."""
        self.state = await self.keeping.ask(lambda: self.bench.state(self.job))

    def faces(self, matrix: Matrix, lit: Mapping[CellKey, Light]) -> dict[CellKey, Face]:
        """Return what each cell of a matrix shows."""
        return {cell.key: face_of(cell, matrix, self.state.standings, lit.get(cell.key)) for cell in matrix.fitted}

    def tallies(self) -> tuple[Tally, ...]:
        """Return how far each matrix is tested, and what waits there."""
        under_way = {one.matrix for one in self.state.rounds.values()}
        return tuple(
            Tally(
                matrix_id,
                matrix_id,
                one.total - one.untested,
                one.total,
                one.retest_due,
                one.deferred,
                matrix_id in under_way,
            )
            for matrix_id, one in coverage_of(self.state).items()
        )

    def answers(self, dropped: Callable[[], bool]) -> Iterator[Analysis | Exception]:
        """Yield better and better diagnoses, ready to be shown, until `dropped`; or the error that ended them."""
        # The analyser is the one heavy import; in the thread that asks for it it keeps nobody waiting.
        from matrixcheck.report.answer.build import answer_of_job  # noqa: PLC0415
        from matrixcheck.tui.text.analysis import analysis_of  # noqa: PLC0415

        state = self.state
        try:
            for found in self.bench.refine(self.job, dropped=dropped):
                yield analysis_of(found, answer_of_job(found, state, looking=not found.searched.finished))
        except Exception as error:
            # Whatever it is that the analyser can't do, marks go on being kept.
            yield error
