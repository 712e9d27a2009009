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
intermittent; so does being stuck at rest in one scan and not in the next. Once repaired, an intermittent cell stays due
for a retest until it has passed several times in a row.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from msgspec import Struct

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

PASSES_WHEN_INTERMITTENT = 3
"""How often a cell that came and went has to pass after a repair. One pass says little of it."""


class Seen(NamedTuple):
    """A reading with its place in the journal."""

    seq: int
    at: datetime
    reading: Reading


class Standing(Struct, frozen=True):
    """How a cell stands.

    `mark` is untested while a retest is due; `before_repair` then keeps what the cell was. `echoed`,
    `answered_instead` and `faint` are the cells that its last exercise showed as well, instead, or faintly. `deferred`
    is the reason it was put off for (maybe empty), None when it wasn't. `retest_due` is the place repaired since, and
    `passes_needed` how often the cell has to pass before that ends. `ohms` is the last resistance measured. `last_at`
    is the time of its last reading ever. `count` and `seen` are its readings since the last repair that outdated what
    was seen of it, oldest first; `since` is the seq of that repair, 0 without one. `repaired_by` are the repairs (their
    seq) that its retest judges. `accepted` is the note (maybe empty) with which its glow at rest was called normal on
    this machine, None where it wasn't.
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
    passes_needed: int = 1
    since: int = 0
    repaired_by: tuple[int, ...] = ()
    accepted: str | None = None

    @property
    def normal(self) -> bool:
        """Return whether it only glows at rest, as it may: that is neither a failure nor a sign that it works."""
        return (
            self.accepted is not None
            and self.mark is Mark.STUCK
            and not (self.echoed or self.answered_instead or self.intermittent)
        )

    @property
    def fails(self) -> bool:
        """Return whether it is dead, comes and goes, or shows with nothing exercised where that isn't normal."""
        return self.intermittent or (self.mark in (Mark.DEAD, Mark.STUCK) and not self.normal)

    @property
    def count(self) -> int:
        """Return how many current readings exercised the cell."""
        return len(self.seen)

    @property
    def passes_left(self) -> int:
        """Return how many more passes a retest takes, 0 where none is due."""
        passed = sum(has_outcome(one.reading) for one in self.seen)
        return max(self.passes_needed - passed, 1) if self.retest_due is not None else 0


class Judged(NamedTuple):
    """What the readings make of a cell; fields as in `Standing`."""

    mark: Mark
    echoed: tuple[CellKey, ...]
    answered_instead: tuple[CellKey, ...]
    faint: tuple[CellKey, ...]
    intermittent: bool
    ohms: float | None


class AtRest(Struct, frozen=True):
    """What is known of one matrix with nothing exercised.

    Its current rest scans, oldest first, and the cells that stand stuck. `repaired` is the seq of the last repair that
    touched the matrix, 0 without one. `resting` are the switches that rest closed and that the last scan with nothing
    held showed, also where it is outdated since.
    """

    scans: tuple[Seen, ...] = ()
    stuck: frozenset[CellKey] = frozenset()
    repaired: int = 0
    resting: frozenset[CellKey] = frozenset()

    @property
    def newest(self) -> tuple[Seen, ...]:
        """Return the scans without those from before a repair that were made again after it, the same cells held."""
        again = {frozenset(one.reading.held) for one in self.scans if one.seq > self.repaired}
        return tuple(one for one in self.scans if one.seq > self.repaired or frozenset(one.reading.held) not in again)

    def showing(self, held: Iterable[CellKey], since: int = 0) -> frozenset[CellKey] | None:
        """Return what the latest scan with just these cells held showed.

        None when none was made after the event `since`.
        """
        wanted = frozenset(held)
        for scan in reversed(self.scans):
            if scan.seq > since and frozenset(scan.reading.held) == wanted:
                return frozenset(scan.reading.answered or ())
        return None

    def anyway(self, held: Iterable[CellKey]) -> frozenset[CellKey]:
        """Return what shows, as far as is known, with just these cells held and nothing exercised.

        What shows with nothing held shows then too.
        """
        return frozenset(held).union(self.resting, self.stuck, self.showing(held) or (), self.showing(()) or ())

    def verdicts(self, cell: Cell) -> list[tuple[int, bool]]:
        """Return (seq, whether the cell showed) for every scan with nothing held.

        None for a switch that rests closed.
        """
        if cell.notes.rest == "closed":
            return []
        return [(scan.seq, cell.key in (scan.reading.answered or ())) for scan in self.scans if not scan.reading.held]


class Resting:
    """An `AtRest` that grows: a further scan, or a question, costs the same however many scans there are.

    `closed` are the switches that rest closed.
    """

    def __init__(self, known: AtRest, closed: Iterable[CellKey] = ()) -> None:
        self.closed = frozenset(closed)
        self.stuck = set(known.stuck)
        self.repaired = known.repaired
        self.resting = known.resting
        self.rescan(known.scans)

    def rescan(self, scans: Iterable[Seen]) -> None:
        """Put these scans, oldest first, in the place of all that there were."""
        resting = self.resting
        self.scans: list[Seen] = []
        self._latest: dict[frozenset[CellKey], tuple[int, frozenset[CellKey]]] = {}
        self._ever: frozenset[CellKey] = frozenset()
        self._always: frozenset[CellKey] | None = None
        for one in scans:
            self.add(one)
        self.resting = resting

    def add(self, scan: Seen) -> None:
        """Take a further scan."""
        held, shown = frozenset(scan.reading.held), frozenset(scan.reading.answered or ())
        self.scans.append(scan)
        self._latest[held] = scan.seq, shown
        if not held:
            self.resting = shown & self.closed
            self._ever |= shown
            self._always = shown if self._always is None else self._always & shown

    def showing(self, held: frozenset[CellKey], since: int = 0) -> frozenset[CellKey]:
        """Return what the latest scan with just these cells held showed.

        Nothing where none was made after the event `since`.
        """
        seq, shown = self._latest.get(held, (0, frozenset()))
        return shown if seq > since else frozenset()

    def anyway(self, held: Iterable[CellKey]) -> frozenset[CellKey]:
        """Return what shows, as far as is known, with just these cells held and nothing exercised."""
        kept_closed = frozenset(held)
        return kept_closed.union(self.resting, self.stuck, self.showing(kept_closed), self.showing(frozenset()))

    def scanned(self, cell: Cell, since: int = 0) -> int | None:
        """Return the seq of the latest scan with nothing held.

        None where none was made after the event `since`, or for a switch that rests closed.
        """
        seq, _ = self._latest.get(frozenset(), (0, frozenset()))
        return seq if seq > since and cell.notes.rest != "closed" else None

    def wavers(self, cell: Cell, since: int = 0) -> bool:
        """Return whether some scans with nothing held, after the event `since`, showed the cell and some didn't."""
        if cell.notes.rest == "closed" or cell.key not in self._ever or cell.key in (self._always or ()):
            return False
        if not since:
            return True
        later = [one.reading for one in self.scans if one.seq > since and not one.reading.held]
        return len({cell.key in (reading.answered or ()) for reading in later}) > 1

    def frozen(self) -> AtRest:
        """Return what is known now."""
        return AtRest(tuple(self.scans), frozenset(self.stuck), self.repaired, self.resting)


class Evidence:
    """The current readings that exercised one cell, oldest first in `seen`.

    It grows, and what a judgement needs of it stays as small as the number of sets of switches that were held.
    """

    def __init__(self, cell: Cell, seen: Iterable[Seen] = ()) -> None:
        self.seen: list[Seen] = []
        self.latest: dict[tuple[frozenset[CellKey], Mark | None], Seen] = {}
        self.outcomes = 0
        self.named: set[CellKey] = set()
        self.ohms: float | None = None
        self._key = cell.key
        for one in seen:
            self.add(one)

    def add(self, one: Seen) -> None:
        """Take a further reading.

        In `latest` the latest of each sort stands, the latest of all last: by what was held, and by the mark, None
        where the cell answered and rest scans say what that means. `outcomes` counts those that say how the cell did,
        `named` are the cells that they show or held.
        """
        reading = one.reading
        self.seen.append(one)
        self.named.update(reading.answered or (), reading.faint, reading.held)
        if reading.ohms is not None:
            self.ohms = reading.ohms
        if has_outcome(reading):
            self.outcomes += 1
            sort = frozenset(reading.held), _outcome(self._key, reading)
            self.latest.pop(sort, None)
            self.latest[sort] = one


def has_outcome(reading: Reading) -> bool:
    """Return whether the reading says how the exercised cell did: a resistance or a blown fuse alone does not."""
    return reading.mark is not None or reading.answered is not None


def judge(cell: Cell, evidence: Evidence, at_rest: Resting, since: int = 0, *, may_glow: bool = False) -> Judged:
    """Judge a cell from the current readings that exercised it and the rest scans of its matrix after `since`.

    Where it may glow at rest, it doesn't come and go because it glows and answers as well, or glows at times; and a
    cell that was dead before it glowed is dead.
    """
    marked = [
        (one, held, mark or _answered(cell, held, at_rest, since)) for (held, mark), one in evidence.latest.items()
    ]
    last = marked[-1][0].reading if marked else None
    echoed, instead = _others(cell.key, last, at_rest) if last else ((), ())
    mark, moving = _latest(cell, marked, at_rest, since), _moving(marked)
    return Judged(
        mark=Mark.DEAD if may_glow and mark is Mark.STUCK and moving[-1:] == [Mark.DEAD] else mark,
        echoed=echoed,
        answered_instead=instead,
        faint=last.faint if last else (),
        intermittent=_contradict([one for one in marked if not (may_glow and one[2] is Mark.STUCK)])
        or (not may_glow and at_rest.wavers(cell, since)),
        ohms=evidence.ohms,
    )


def mark_of(cell: Cell, reading: Reading, at_rest: Resting, since: int = 0) -> Mark | None:
    """Return the mark that one reading gives its exercised cell, None where it says nothing of how the cell did."""
    if not has_outcome(reading):
        return None
    return _outcome(cell.key, reading) or _answered(cell, frozenset(reading.held), at_rest, since)


def _outcome(key: CellKey, reading: Reading) -> Mark | None:
    if reading.mark is not None:
        return reading.mark
    return None if key in (reading.answered or ()) else Mark.DEAD


def _answered(cell: Cell, held: frozenset[CellKey], at_rest: Resting, since: int) -> Mark:
    changed_nothing = cell.notes.rest == "open" and cell.key in at_rest.showing(held, since)
    return Mark.STUCK if changed_nothing else Mark.WORKING


def _latest(cell: Cell, marked: Sequence[_Marked], at_rest: Resting, since: int) -> Mark:
    """Return the last mark: of an exercise, or of a later rest scan.

    A scan that shows the cell no more only lifts `stuck`.
    """
    exercised = marked[-1][2] if marked else Mark.UNTESTED
    scanned = at_rest.scanned(cell, since)
    if scanned is None or (marked and marked[-1][0].seq > scanned):
        return exercised
    if cell.key in at_rest.showing(frozenset()):
        return Mark.STUCK
    moving = _moving(marked)
    return moving[-1] if moving else Mark.UNTESTED


def _moving(marked: Sequence[_Marked]) -> list[Mark]:
    return [mark for _, _, mark in marked if mark is not Mark.STUCK]


def _contradict(marked: Sequence[_Marked]) -> bool:
    said = {(held, mark) for _, held, mark in marked}
    return len(said) > len({held for held, _ in said})


def _others(key: CellKey, reading: Reading, at_rest: Resting) -> tuple[tuple[CellKey, ...], tuple[CellKey, ...]]:
    """Return (those that answered as well, those that answered instead).

    What is held or shows at rest anyway is left out.
    """
    if reading.answered is None or reading.answered == (key,):
        return (), ()
    expected = at_rest.anyway(reading.held) | {key}
    others = tuple(other for other in reading.answered if other not in expected)
    return (others, ()) if key in reading.answered else ((), others)


_Marked = tuple[Seen, frozenset[CellKey], Mark]
Standings = Mapping[CellKey, Standing]
