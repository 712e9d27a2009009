"""The state of a job as a pure fold over its events.

A withdrawal takes out everything recorded with its batch, as if it had never been: the state after it is the state of
the remaining events.

A repair outdates earlier bench checks of the same place, the rest scans of the matrices that it touches (where it is
the repair of one cell, only those that tell something of it), and the readings of a cell
- whose lines run through the repaired part, or that was repaired itself, or whose line was;
- that told something of such a cell: that it echoed, glowed, answered instead, or was held and did not show;
- whose mark rested on a scan that is outdated.
Such a cell is due for a retest and stands untested until then.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any, Literal

from msgspec import Struct
from msgspec.structs import replace

from matrixcheck.layout.designators import owner as owning_part
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.events import (
    Deferred,
    Found,
    JobOpened,
    Noted,
    Read,
    Recorded,
    Repaired,
    RoundEnded,
    RoundKind,
    RoundPaced,
    RoundStarted,
    SafetyChecked,
    WalkManner,
    Withdrawn,
)
from matrixcheck.record.standing import AtRest, Seen, Standing, Standings, judge


class Pace(Struct, frozen=True):
    """The beat of a paced walk as it was at a time: the device at `place` of the round showed, and it went on every
    `seconds` unless it was `paused`."""

    seconds: float
    place: int
    paused: bool
    at: datetime


class Round(Struct, frozen=True):
    """The open round. `held` are the switches kept closed, `cells` those it goes through (none: all of the matrix);
    `manner` and `pace` are a walk's. `seq` is where it began."""

    matrix: str
    kind: RoundKind
    held: tuple[CellKey, ...]
    started_at: datetime
    seq: int
    cells: tuple[CellKey, ...] = ()
    manner: WalkManner = "stepped"
    pace: Pace | None = None


class FindingMade(Struct, frozen=True):
    """What a bench check said of a place."""

    place: str
    verdict: Literal["good", "faulty", "replaced"]
    note: str
    at: datetime


class RepairMade(Struct, frozen=True):
    """A place that was repaired or replaced. `seq` is its place in the journal."""

    place: str
    note: str
    at: datetime
    seq: int


class SafetyCheckMade(Struct, frozen=True):
    """A safety check and how it came out."""

    item: str
    passed: bool
    note: str
    at: datetime


class NoteMade(Struct, frozen=True):
    """A note in the technician's words."""

    text: str
    at: datetime


class JobState(Struct, frozen=True):
    """A job as its events leave it.

    `standings` has every fitted cell; `at_rest` goes by matrix id. `findings` are the bench checks that still hold.
    `history` holds the events that still count, withdrawn ones left out. `seq` is the last event folded in.
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
    notes: tuple[NoteMade, ...] = ()
    round: Round | None = None
    history: tuple[Recorded, ...] = ()
    seq: int = 0

    @property
    def rest_scans(self) -> tuple[Seen, ...]:
        """The rest scans that still speak, oldest first."""
        found = [scan for known in self.at_rest.values() for scan in known.scans]
        return tuple(sorted(found, key=lambda scan: scan.seq))

    @property
    def current(self) -> tuple[Reading, ...]:
        """The readings that still speak, neither withdrawn nor outdated by a repair, in the order they were kept."""
        seen = [one for standing in self.standings.values() for one in standing.seen]
        return tuple(one.reading for one in sorted([*seen, *self.rest_scans], key=lambda one: one.seq))

    @property
    def known(self) -> tuple[Finding, ...]:
        """What is known of places away from test mode: the bench checks that still hold, and what was replaced."""
        checked = [Finding(place=one.place, verdict=one.verdict) for one in self.findings]
        since = {one.place for one in self.findings}
        replaced = [place for place in dict.fromkeys(one.place for one in self.repairs) if place not in since]
        return (*(Finding(place=place, verdict="replaced") for place in replaced), *checked)

    @property
    def last_undoable(self) -> int | None:
        """The batch that an undo would withdraw, None when there is none."""
        return next((one.batch for one in reversed(self.history) if one.event.undoable), None)


def replay(events: Iterable[Recorded]) -> JobState:
    """The state after all events of one job, the first of which opened it. Raises ValueError when it didn't."""
    ordered = iter(events)
    first = next(ordered, None)
    if first is None or not isinstance(first.event, JobOpened):
        raise ValueError("the events of a job begin with its opening")
    state = _opened(first, first.event)
    for recorded in ordered:
        state = advance(state, recorded)
    return state


def advance(state: JobState, recorded: Recorded) -> JobState:
    """The state one event on. `recorded` is of the same job and later than all that the state holds."""
    event = recorded.event
    if isinstance(event, Withdrawn):
        kept = [one for one in state.history if one.batch != event.batch]
        return replace(replay(kept), seq=recorded.seq)
    return replace(_changed(state, recorded), history=(*state.history, recorded), seq=recorded.seq)


def _opened(recorded: Recorded, event: JobOpened) -> JobState:
    fitted = [cell for matrix in event.layout.matrices for cell in matrix.fitted]
    return JobState(
        id=recorded.job,
        name=event.name,
        serial=event.serial,
        owner=event.owner,
        layout=event.layout,
        opened_at=recorded.at,
        standings={cell.key: Standing(cell) for cell in fitted},
        at_rest={matrix.id: AtRest() for matrix in event.layout.matrices},
        history=(recorded,),
        seq=recorded.seq,
    )


def _changed(state: JobState, recorded: Recorded) -> JobState:
    at, changed = recorded.at, state
    match recorded.event:
        case Read(reading=reading):
            changed = _read(state, Seen(recorded.seq, at, reading))
        case Deferred(cell=key, reason=reason):
            changed = _stands(state, replace(state.standings[key], deferred=reason))
        case Repaired(place=place, note=note):
            changed = _repaired(state, RepairMade(place, note, at, recorded.seq))
        case Found(finding=finding, note=note):
            made = FindingMade(finding.place, finding.verdict, note, at)
            changed = replace(state, findings=(*_without(state.findings, finding.place), made))
        case RoundStarted() as begun:
            opened = Round(begun.matrix, begun.round, begun.held, at, recorded.seq, begun.cells, begun.manner)
            changed = replace(state, round=opened)
        case RoundPaced(seconds=seconds, place=place, paused=paused) if state.round is not None:
            changed = replace(state, round=replace(state.round, pace=Pace(seconds, place, paused, at)))
        case RoundEnded():
            changed = replace(state, round=None)
        case SafetyChecked(item=item, passed=passed, note=note):
            changed = replace(state, safety=(*state.safety, SafetyCheckMade(item, passed, note, at)))
        case Noted(text=text):
            changed = replace(state, notes=(*state.notes, NoteMade(text, at)))
    return changed


def _stands(state: JobState, *changed: Standing) -> JobState:
    at_rest = dict(state.at_rest)
    for one in changed:
        key, known = one.cell.key, at_rest[one.cell.key.matrix]
        if (one.mark is Mark.STUCK) is not (key in known.stuck):
            at_rest[key.matrix] = replace(known, stuck=known.stuck ^ {key})
    return replace(state, at_rest=at_rest, standings={**state.standings, **{one.cell.key: one for one in changed}})


def _with_scans(state: JobState, scans: Mapping[str, tuple[Seen, ...]]) -> JobState:
    """The state with other rest scans for the matrices named, and their cells judged again."""
    at_rest = {name: replace(state.at_rest[name], scans=found) for name, found in scans.items()}
    changed = [
        _judged(state.standings[cell.key], at_rest[name]) for name in scans for cell in state.layout.matrix(name).fitted
    ]
    return _stands(replace(state, at_rest={**state.at_rest, **at_rest}), *changed)


def _read(state: JobState, seen: Seen) -> JobState:
    reading = seen.reading
    if reading.cell is None:
        return _with_scans(state, {reading.matrix: (*state.at_rest[reading.matrix].scans, seen)})
    before = state.standings[reading.cell]
    told = _tells(reading)
    after = _judged(
        before,
        state.at_rest[reading.matrix],
        seen=(*before.seen, seen),
        last_at=seen.at,
        deferred=None if told else before.deferred,
    )
    return _stands(state, after)


def _judged(standing: Standing, at_rest: AtRest, **changes: Any) -> Standing:
    """The standing with `changes` to its fields, judged from what was then seen. A mark ends a retest."""
    judged = judge(standing.cell, changes.get("seen", standing.seen), at_rest)
    if judged.mark is not Mark.UNTESTED:
        changes |= {"retest_due": None, "before_repair": None}
    return replace(standing, **changes, **judged._asdict())


def _repaired(state: JobState, repair: RepairMade) -> JobState:
    touched = cells_touched(state.layout, repair.place)
    aside = replace(state, repairs=(*state.repairs, repair), findings=_without(state.findings, repair.place))
    without_scans = _with_scans(aside, _scans_left(state, touched))
    due = [
        _due(standing, repair.place)
        for standing in state.standings.values()
        if _tested(standing)
        and (
            standing.cell.key in touched
            or any(_tells_of(one.reading, touched) for one in standing.seen)
            or without_scans.standings[standing.cell.key].mark is not standing.mark
        )
    ]
    return _stands(without_scans, *due)


def _scans_left(state: JobState, touched: frozenset[CellKey]) -> dict[str, tuple[Seen, ...]]:
    left: dict[str, tuple[Seen, ...]] = dict.fromkeys(sorted({key.matrix for key in touched}), ())
    if len(touched) == 1:
        for name in left:
            left[name] = tuple(one for one in state.at_rest[name].scans if not _tells_of(one.reading, touched))
    return left


def _tested(standing: Standing) -> bool:
    return standing.mark is not Mark.UNTESTED or any(_tells(one.reading) for one in standing.seen)


def _due(standing: Standing, place: str) -> Standing:
    """The cell with nothing said of it since the repair; what it was before is kept beside."""
    return Standing(
        standing.cell,
        deferred=standing.deferred,
        retest_due=place,
        before_repair=standing.mark,
        last_at=standing.last_at,
    )


def _tells(reading: Reading) -> bool:
    return reading.mark is not None or reading.answered is not None


def _tells_of(reading: Reading, touched: frozenset[CellKey]) -> bool:
    """Whether the reading says of a touched cell anything beyond that it was held and showed."""
    held, answered = set(reading.held), set(reading.answered or ())
    silent = held - answered if reading.answered is not None else set()
    told = {reading.cell, *(answered - held), *silent, *reading.faint}
    return not touched.isdisjoint(told)


def _without(findings: tuple[FindingMade, ...], place: str) -> tuple[FindingMade, ...]:
    """The findings that a later word on `place` leaves: those on other places, and not on its contacts."""
    return tuple(one for one in findings if place not in (one.place, owning_part(one.place)))


def cells_touched(layout: Layout, place: str) -> frozenset[CellKey]:
    """The fitted cells that work on a place concerns: a cell itself, a line's cells, or those whose lines run through
    a part. None for a place that the layout doesn't know."""
    cells = [cell for matrix in layout.matrices for cell in matrix.fitted]
    if (key := parse_cell(place, "")) is not None:
        return frozenset(cell.key for cell in cells if cell.key == key)
    if (line := parse_line(place, "")) is not None:
        return frozenset(cell.key for cell in cells if line in (cell.row_line, cell.column_line))
    return frozenset(cell.key for cell in cells if place in layout.path_parts(cell.key))
