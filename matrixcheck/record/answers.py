"""What the use cases answer with: a job in a list, what was kept, what was undone, what an undo would withdraw."""

from __future__ import annotations

from datetime import datetime

from msgspec import Struct

from matrixcheck.layout.numbering import Number
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import Accepted, Deferred, Event, Read, Recorded
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import Coverage, coverage_of, words_of


class JobSummary(Struct, frozen=True):
    """A job as a list shows it. `machine` is the layout's name; `coverage` goes by matrix id, in the layout's order.

    `failing` counts the cells that are dead, stuck or come and go, and `retest_due` those that are to be tested again.
    `rounds` are the open ones in words, `worked_at` is the time of the last event. `verdict` is what the job was closed
    with, None while it is open.
    """

    id: str
    name: str
    serial: str
    owner: str
    machine: str
    opened_at: datetime
    coverage: dict[str, Coverage]
    worked_at: datetime
    failing: int = 0
    rounds: tuple[str, ...] = ()
    previous: str = ""
    verdict: str | None = None
    archived: bool = False

    @property
    def cells(self) -> int:
        """Return how many cells the machine has."""
        return sum(count.total for count in self.coverage.values())

    @property
    def tested(self) -> int:
        """Return how many cells are tested."""
        return self.cells - sum(count.untested for count in self.coverage.values())

    @property
    def retest_due(self) -> int:
        """Return how many cells are due for a retest."""
        return sum(count.retest_due for count in self.coverage.values())

    def matches(self, words: str) -> bool:
        """Return whether every word stands in its id, name, serial number, owner or machine, in either case."""
        text = " ".join((self.id, self.name, self.serial, self.owner, self.machine)).casefold()
        return all(word in text for word in words.casefold().split())


class Kept(Struct, frozen=True):
    """Something that was recorded.

    `cell` and `number` are None for a rest scan. `mark` is how the cell stands now, `before` how it stood; `deferred`
    is the reason it is put off for, None when it isn't. `passes_left` says how often its retest must still pass, 0
    where none is due. `corrected`: what its round had kept of the cell before no longer counts. `intermittent`:
    it comes and goes.
    """

    seq: int
    cell: CellKey | None
    number: Number | None
    name: str
    mark: Mark
    before: Mark
    deferred: str | None = None
    passes_left: int = 0
    intermittent: bool = False
    corrected: bool = False
    ohms: float | None = None


class Undone(Struct, frozen=True):
    """What an undo withdrew, or a redo brought back, in words, and the cells concerned.

    `back` is what counts again as an undo withdrew its correction, and what no longer counts as a redo renewed it.
    """

    seq: int
    what: tuple[str, ...]
    cells: tuple[CellKey, ...]
    back: tuple[str, ...] = ()


class LastEntry(Struct, frozen=True):
    """What an undo could withdraw next, in words, and which client recorded it."""

    batch: int
    client: str
    initials: str
    what: tuple[str, ...]


def summary(state: JobState) -> JobSummary:
    """Return the job as a list of jobs shows it."""
    return JobSummary(
        id=state.id,
        name=state.name,
        serial=state.serial,
        owner=state.owner,
        machine=state.layout.name,
        opened_at=state.opened_at,
        coverage=coverage_of(state),
        worked_at=max((run[-1] for run in (state.history, state.struck) if run), key=lambda one: one.seq).at,
        failing=sum(one.fails for one in state.standings.values()),
        rounds=tuple(f"{one.kind} of {one.matrix}" for one in state.rounds.values()),
        previous=state.previous,
        verdict=state.verdict,
        archived=state.archived,
    )


def kept(recorded: Recorded, before: JobState, after: JobState) -> Kept:
    """Return what was recorded, given the states before and after it."""
    key = cell_of(recorded.event)
    if key is None:
        return Kept(recorded.seq, None, None, "rest scan", Mark.UNTESTED, Mark.UNTESTED)
    now, cell = after.standings[key], after.standings[key].cell
    was = before.standings[key].mark
    measured = recorded.event.reading.ohms if isinstance(recorded.event, Read) else None
    return Kept(
        recorded.seq,
        key,
        cell.number,
        cell.name,
        now.mark,
        was,
        now.deferred,
        now.passes_left,
        now.intermittent,
        ohms=measured,
    )


def cell_of(event: Event) -> CellKey | None:
    """Return the cell that an event tells of, None where it is none in particular."""
    match event:
        case Read(reading=reading):
            return reading.cell
        case Deferred(cell=cell) | Accepted(cell=cell):
            return cell
    return None


def counted_in_one(state: JobState, other: JobState) -> tuple[Recorded, ...]:
    """Return the events that count in one state of a job and not in another, oldest first."""
    counted = {one.seq for one in other.counting}
    return tuple(one for one in state.counting if one.seq not in counted)


def matrix_of(event: Event) -> str:
    """Return the id of the matrix in which something was read or put off, "" for any other event."""
    match event:
        case Read(reading=reading):
            return reading.matrix
        case Deferred(cell=cell) | Accepted(cell=cell):
            return cell.matrix
    return ""


def words_and_cells(
    entry: tuple[Recorded, ...], state: JobState, before: JobState | None = None
) -> tuple[tuple[str, ...], tuple[CellKey, ...]]:
    """Return what was recorded together, in words, and the cells of the layout that it tells of.

    `before` is the state in which it counted, where it counts no more.
    """
    apart = {one.recorded.seq: one.layout for one in (before or state).without_cell}
    words = tuple(
        words_of(one.event, apart[one.seq]) if one.seq in apart else words_of(one.event, state.layout, state.anyway)
        for one in entry
    )
    return words, tuple(key for one in entry if (key := cell_of(one.event)) in state.standings and key is not None)
