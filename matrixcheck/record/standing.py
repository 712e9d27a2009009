"""How one cell stands, judged from what was seen of it since the last repair that touched it.

The latest word counts:
- a mark that the person gave is taken as it is;
- an exercise that the cell answered makes it working, unless the cell shows just the same with nothing exercised (the
  latest rest scan with the same switches held says so): then pressing it changed nothing, and it is stuck;
- an exercise that it did not answer makes it dead, whether another answered instead or not;
- a rest scan with nothing held that shows the cell makes it stuck, unless the layout says that it rests closed;
- a resistance or a blown fuse alone says nothing of it.

A switch that rests closed is exercised by opening it (lift the ball out of the trough): it counts as answered when the
machine shows it then. That it shows at rest is as it should be, that it doesn't may only mean that the ball is
elsewhere: neither marks it.

Two exercises under the same held switches that say different things, with no repair between them, make the cell
intermittent; so does being stuck at rest in one scan and not in the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from msgspec import Struct

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


class Seen(NamedTuple):
    """A reading with its place in the journal."""

    seq: int
    at: datetime
    reading: Reading


class Standing(Struct, frozen=True):
    """How a cell stands.

    `mark` is untested while a retest is due; `before_repair` then keeps what the cell was. `echoed`,
    `answered_instead` and `faint` are the cells that its last exercise showed as well, instead, or faintly. `deferred`
    is the reason it was put off for (maybe empty), None when it wasn't. `retest_due` is the place repaired since.
    `ohms` is the last resistance measured. `last_at` is the time of its last reading ever; `count` and `seen` are its
    readings since the last repair that touched it, oldest first.
    """

    cell: Cell
    mark: Mark = Mark.UNTESTED
    echoed: tuple[CellKey, ...] = ()
    answered_instead: tuple[CellKey, ...] = ()
    faint: tuple[CellKey, ...] = ()
    intermittent: bool = False
    deferred: str | None = None
    retest_due: str | None = None
    before_repair: Mark | None = None
    ohms: float | None = None
    last_at: datetime | None = None
    seen: tuple[Seen, ...] = ()

    @property
    def count(self) -> int:
        """How many current readings exercised the cell."""
        return len(self.seen)


class Judged(NamedTuple):
    """What the readings make of a cell; fields as in `Standing`."""

    mark: Mark
    echoed: tuple[CellKey, ...]
    answered_instead: tuple[CellKey, ...]
    faint: tuple[CellKey, ...]
    intermittent: bool
    ohms: float | None


class AtRest(Struct, frozen=True):
    """What is known of one matrix with nothing exercised: its current rest scans, oldest first, and the cells that
    stand stuck."""

    scans: tuple[Seen, ...] = ()
    stuck: frozenset[CellKey] = frozenset()

    def showing(self, held: Iterable[CellKey], since: int = 0) -> frozenset[CellKey] | None:
        """What the latest scan with just these cells held showed; None when none was made after the event `since`."""
        wanted = frozenset(held)
        for scan in reversed(self.scans):
            if scan.seq > since and frozenset(scan.reading.held) == wanted:
                return frozenset(scan.reading.answered or ())
        return None

    def anyway(self, held: Iterable[CellKey]) -> frozenset[CellKey]:
        """What shows, as far as is known, with just these cells held and nothing exercised."""
        return self.stuck | (self.showing(held) or frozenset()) | frozenset(held)

    def verdicts(self, cell: Cell) -> list[tuple[int, bool]]:
        """(seq, whether the cell showed) for every scan with nothing held; none for a switch that rests closed."""
        if cell.notes.rest == "closed":
            return []
        return [(scan.seq, cell.key in (scan.reading.answered or ())) for scan in self.scans if not scan.reading.held]


def judge(cell: Cell, seen: Iterable[Seen], at_rest: AtRest) -> Judged:
    """What the current readings that exercised a cell, and the current rest scans of its matrix, make of it."""
    told = [(one, mark) for one in seen if (mark := _mark_of(cell, one.reading, at_rest)) is not None]
    scanned = at_rest.verdicts(cell)
    echoed, instead = _others(cell.key, told[-1][0].reading, at_rest) if told else ((), ())
    measured = [one.reading.ohms for one in seen if one.reading.ohms is not None]
    return Judged(
        mark=_latest(told, scanned),
        echoed=echoed,
        answered_instead=instead,
        faint=told[-1][0].reading.faint if told else (),
        intermittent=_contradict(told) or len({shows for _, shows in scanned}) > 1,
        ohms=measured[-1] if measured else None,
    )


def _mark_of(cell: Cell, reading: Reading, at_rest: AtRest) -> Mark | None:
    if reading.mark is not None:
        return reading.mark
    if reading.answered is None:
        return None
    if cell.key not in reading.answered:
        return Mark.DEAD
    changed_nothing = cell.key in (at_rest.showing(reading.held) or ()) and cell.notes.rest == "open"
    return Mark.STUCK if changed_nothing else Mark.WORKING


def _latest(told: list[tuple[Seen, Mark]], scanned: list[tuple[int, bool]]) -> Mark:
    """The last word: of an exercise, or of a later rest scan. A scan that shows the cell no more only lifts `stuck`."""
    exercised = told[-1][1] if told else Mark.UNTESTED
    if not scanned or (told and told[-1][0].seq > scanned[-1][0]):
        return exercised
    if scanned[-1][1]:
        return Mark.STUCK
    moving = [mark for _, mark in told if mark is not Mark.STUCK]
    return moving[-1] if moving else Mark.UNTESTED


def _contradict(told: list[tuple[Seen, Mark]]) -> bool:
    by_held: dict[frozenset[CellKey], set[Mark]] = {}
    for one, mark in told:
        by_held.setdefault(frozenset(one.reading.held), set()).add(mark)
    return any(len(marks) > 1 for marks in by_held.values())


def _others(key: CellKey, reading: Reading, at_rest: AtRest) -> tuple[tuple[CellKey, ...], tuple[CellKey, ...]]:
    """(those that answered as well, those that answered instead), without what is held or shows at rest anyway."""
    if reading.answered is None:
        return (), ()
    expected = at_rest.anyway(reading.held) | {key}
    others = tuple(other for other in reading.answered if other not in expected)
    return (others, ()) if key in reading.answered else ((), others)


Standings = Mapping[CellKey, Standing]
