"""How a job stands: what its events leave, and what one client sees of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Literal, NamedTuple

from msgspec import Struct

from matrixcheck.layout.model import Layout, Section
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading, Verdict
from matrixcheck.layout.source import UNKNOWN, LayoutSource
from matrixcheck.record.accepted import without_glow
from matrixcheck.record.cell_state import AtRest, Seen, Standings
from matrixcheck.record.coil_lock import CoilLock
from matrixcheck.record.events import Accepted, Deferred, Event, FunctionVerdict, Read, Recorded, RoundKind, WalkManner


class Pace(Struct, frozen=True):
    """The timing of a timed walk as it was at a time.

    The device at `place` of the round showed, and it went on every `seconds` unless it was `paused`.
    """

    seconds: float
    place: int
    paused: bool
    at: datetime


class Round(Struct, frozen=True):
    """A client's open round.

    `held` are the switches kept closed, `cells` those it goes through (none: all of the matrix); `manner` and `pace`
    are a walk's. `seq` is where it began.
    """

    matrix: str
    kind: RoundKind
    held: tuple[CellKey, ...]
    started_at: datetime
    seq: int
    cells: tuple[CellKey, ...] = ()
    manner: WalkManner = "stepped"
    pace: Pace | None = None


class FindingMade(Struct, frozen=True):
    """What a bench check said, and when; `key` is what a later word on the same replaces."""

    finding: Finding
    note: str
    at: datetime

    @property
    def key(self) -> tuple[str, str]:
        """Return the code of the check, or its place and its kind where it was recorded without one."""
        one = self.finding
        return (one.code, "") if one.code else (one.place, one.check)

    @property
    def place(self) -> str:
        """Return the place that it was found at."""
        return self.finding.place

    @property
    def verdict(self) -> Verdict:
        """Return what was found."""
        return self.finding.verdict

    @property
    def check(self) -> str:
        """Return the kind of check, empty where nobody said."""
        return self.finding.check


RepairOutcome = Literal["nothing to retest", "retest due", "passed", "failed"]


class RepairMade(Struct, frozen=True):
    """A place that was repaired or replaced. `seq` is its place in the journal.

    `did` says what was done, `fitted` what was put in, `value` its rating or what was measured. `outside`: the place is
    no part of the layout. `due` are the cells that the repair made due for a retest, `passed` and `failed` those of
    them that were tested since.
    """

    place: str
    note: str
    at: datetime
    seq: int
    did: str = ""
    fitted: str = ""
    value: str = ""
    outside: bool = False
    due: frozenset[CellKey] = frozenset()
    passed: frozenset[CellKey] = frozenset()
    failed: frozenset[CellKey] = frozenset()

    @property
    def said(self) -> str:
        """Return what was done, what was fitted, its value, and the note, as far as they were given."""
        fitted = f"fitted {self.fitted}" if self.fitted else ""
        return "; ".join(filter(None, (self.did, fitted, self.value, self.note)))

    @property
    def outcome(self) -> RepairOutcome:
        """Return what its retest says: one cell that fails is enough, and all have to pass."""
        if not self.due:
            return "nothing to retest"
        if self.failed:
            return "failed"
        return "passed" if self.passed == self.due else "retest due"


class SafetyCheckMade(Struct, frozen=True):
    """A safety check and how it came out; fields as in the event."""

    item: str
    passed: bool
    note: str
    at: datetime
    waived: bool = False
    reading: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""

    @property
    def failed(self) -> bool:
        """Return whether it failed, and nobody waived it."""
        return not (self.passed or self.waived)


class FunctionCheckMade(Struct, frozen=True):
    """A line of the rest of the test mode, and what came of it; fields as in the event."""

    section: Section
    item: str
    verdict: FunctionVerdict
    note: str
    at: datetime


class NoteMade(Struct, frozen=True):
    """A note in the technician's words; `seq` is its event."""

    text: str
    at: datetime
    seq: int = 0


class PhotoMade(Struct, frozen=True):
    """A photo, and what it shows; `name` is its SHA-256, the other fields are as in the event, and `seq` is that."""

    name: str
    width: int
    height: int
    size: int
    place: str
    safety: str
    check: str
    note: int
    caption: str
    at: datetime
    seq: int


class WithoutCell(NamedTuple):
    """An event that counts, of a place that the job's layout no longer has, in the terms of the last that had it."""

    recorded: Recorded
    layout: Layout


class JobState(Struct, frozen=True):
    """A job as its events leave it, and as one `client` of it sees it: `round` and `last_undoable` are that client's.

    `standings` has every fitted cell; `at_rest` goes by matrix id. `findings` are the bench checks that still hold.
    `coils` says whether a coil is on at rest, and what was recorded since. `rounds` are the open ones by client.
    `history` holds the events that still count; `struck` those that were undone, and the undos and redos themselves.
    `seq` is the last event folded in. `source` is where the layout was read. Where the job had other layouts before,
    `history` has its events in the terms of this one, `without_cell` those that have no place in it, and `recorded` all
    of them as they were recorded. `previous` is the job of the machine's last visit, "" where none is known.
    `verdict` is what the job was closed with, None while it is open.
    """

    id: str
    name: str
    serial: str
    owner: str
    layout: Layout
    opened_at: datetime
    standings: Standings
    at_rest: Mapping[str, AtRest]
    findings: tuple[FindingMade, ...] = ()
    repairs: tuple[RepairMade, ...] = ()
    safety: tuple[SafetyCheckMade, ...] = ()
    functions: tuple[FunctionCheckMade, ...] = ()
    notes: tuple[NoteMade, ...] = ()
    photos: tuple[PhotoMade, ...] = ()
    rounds: Mapping[str, Round] = {}
    coils: CoilLock = CoilLock()
    history: tuple[Recorded, ...] = ()
    struck: tuple[Recorded, ...] = ()
    seq: int = 0
    client: str = ""
    previous: str = ""
    verdict: str | None = None
    archived: bool = False
    source: LayoutSource = UNKNOWN
    without_cell: tuple[WithoutCell, ...] = ()
    recorded: tuple[Recorded, ...] = ()

    @property
    def round(self) -> Round | None:
        """Return the round that the client has open."""
        return self.rounds.get(self.client)

    def anyway(self, reading: Reading) -> frozenset[CellKey]:
        """Return what shows with nothing exercised, as far as is known, under the switches that a reading held."""
        return self.at_rest[reading.matrix].anyway(reading.held)

    @property
    def rest_scans(self) -> tuple[Seen, ...]:
        """Return the rest scans that still speak, oldest first."""
        found = [scan for known in self.at_rest.values() for scan in known.scans]
        return tuple(sorted(found, key=lambda scan: scan.seq))

    @property
    def current(self) -> tuple[Reading, ...]:
        """Return the readings that still speak, in the order they were kept.

        They are neither withdrawn nor outdated by a repair, and a rest scan is none that was made again since.
        """
        seen = [one for standing in self.standings.values() for one in standing.seen]
        scans = [scan for known in self.at_rest.values() for scan in known.newest]
        return tuple(one.reading for one in sorted([*seen, *scans], key=lambda one: one.seq))

    @property
    def accepted(self) -> frozenset[CellKey]:
        """Return the lamps whose glow at rest is normal on this machine."""
        return frozenset(key for key, standing in self.standings.items() if standing.accepted is not None)

    @property
    def judged(self) -> tuple[Reading, ...]:
        """Return the readings that still speak, without the glow that is normal on this machine."""
        return without_glow(self.current, self.accepted)

    @property
    def known(self) -> tuple[Finding, ...]:
        """Return what is known of places away from test mode.

        That is the bench checks that still hold, and what was replaced.
        """
        checked = [one.finding for one in self.findings if one.verdict != "between"]
        since = {one.place for one in checked}
        repaired = dict.fromkeys(one.place for one in self.repairs if not one.outside)
        replaced = [place for place in repaired if place not in since]
        return (*(Finding(place=place, verdict="replaced") for place in replaced), *checked)

    @property
    def everything(self) -> tuple[Recorded, ...]:
        """Return every event of the job as it was recorded, oldest first, also those that no longer count."""
        if self.recorded:
            return self.recorded
        return tuple(sorted((*self.history, *self.struck), key=lambda one: one.seq)) if self.struck else self.history

    @property
    def counting(self) -> tuple[Recorded, ...]:
        """Return every event that still counts, oldest first, also of places that the layout no longer has."""
        if not self.without_cell:
            return self.history
        return tuple(sorted((*self.history, *(one.recorded for one in self.without_cell)), key=lambda one: one.seq))

    def number_of(self, seq: int) -> int:
        """Return the number of an event within the job, as its history counts: the opening is 1."""
        return 1 + sum(one.seq < seq for one in self.everything)

    @property
    def due(self) -> tuple[CellKey, ...]:
        """Return the cells that are due for a retest, in the layout's order, by number."""
        return tuple(key for key, standing in self.standings.items() if standing.retest_due is not None)

    @property
    def last_undoable(self) -> int | None:
        """Return the batch that the client's undo would withdraw, None when there is none."""
        own = (one for one in reversed(self.counting) if one.client == self.client)
        return next((one.batch for one in own if one.event.undoable), None)

    @property
    def last_cell(self) -> CellKey | None:
        """Return the cell that the client's last entry speaks of; None without one, or for a client without a name."""
        own = (one.event for one in reversed(self.history) if self.client and one.client == self.client)
        return next(filter(None, map(_cell_of, own)), None)

    @property
    def last_at(self) -> datetime:
        """Return the time of the client's last event that still counts; of the opening where there is none."""
        own = (one.at for one in reversed(self.counting) if one.client == self.client)
        return next(own, self.opened_at)

    @property
    def last_of_all(self) -> Recorded | None:
        """Return the last event that an undo could withdraw, whoever recorded it."""
        return next((one for one in reversed(self.counting) if one.event.undoable), None)


def _cell_of(event: Event) -> CellKey | None:
    """Return the cell that an event speaks of, if it is of one."""
    if isinstance(event, Read):
        return event.reading.cell
    return event.cell if isinstance(event, Deferred | Accepted) else None
