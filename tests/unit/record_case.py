"""A small invented machine for the tests of the record, and events on it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta

from hypothesis import strategies as st
from msgspec import convert

from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.events import (
    Accepted,
    Deferred,
    Event,
    Found,
    FunctionChecked,
    JobArchived,
    JobClosed,
    JobEdited,
    JobOpened,
    JobReopened,
    Noted,
    PhotoTaken,
    Read,
    Recorded,
    Repaired,
    RoundEnded,
    RoundPaced,
    RoundStarted,
    SafetyChecked,
    Withdrawn,
)
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay

LAYOUT_TEXT = """
format = 1
name = "Lantern Pier"

[[matrix]]
id = "switches"
kind = "switch"
cells = [
  ["lamp post 1", "gull", "kiosk", ""],
  ["lamp post 2", "crab", "rope", "bell"],
  ["trough", "tide", "", "anchor"],
]

  [[matrix.column]]
  path = ["U4-1", "Q1", "X5-1"]

  [[matrix.column]]
  path = ["U4-2", "Q2", "X5-2"]

  [[matrix.column]]
  path = ["U4-3", "Q3", "X5-3"]

  [[matrix.row]]
  path = ["U7-2", "X6-1"]

  [matrix.cell.3]
  rest = "closed"
  reach = "ball"

  [matrix.cell.11]
  reach = "glass off"

[[matrix]]
id = "lamps"
kind = "lamp"
numbering = "listed"
numbers = [[11, 12, 13], [21, 22, 0]]
supply = ["F2"]
cells = [["red", "amber", "green"], ["pier", "bulb", ""]]

[[matrix]]
id = "coils"
kind = "coil"
cells = [["kicker"], ["knocker"]]
"""
LAYOUT = parse_layout(LAYOUT_TEXT, "lantern-pier")
SWITCHES, LAMPS, COILS = LAYOUT.matrices
START = datetime(2026, 3, 1, 19, tzinfo=UTC)


def at(row: int, column: int, matrix: str = "switches") -> CellKey:
    """A place."""
    return CellKey(matrix, row, column)


def read(cell: CellKey | None, answered: Iterable[CellKey] | None = None, **rest: object) -> Read:
    """A reading as an event; a rest scan of the switches without a cell."""
    body = {"matrix": cell.matrix if cell else "switches", "cell": cell, "answered": answered, **rest}
    return Read(reading=convert({name: value for name, value in body.items() if value is not None}, Reading))


def marked(cell: CellKey, mark: Mark, **rest: object) -> Read:
    """A mark alone."""
    return read(cell, mark=mark, **rest)


def recorded(*batches: Event | tuple[Event, ...]) -> tuple[Recorded, ...]:
    """Events as the journal of one job holds them, the opening first; a tuple is one batch."""
    return tuple(_recorded((JobOpened(name="bench 1", layout=LAYOUT), *batches)))


def state_after(*batches: Event | tuple[Event, ...]) -> JobState:
    """The job's state after the events."""
    return replay(recorded(*batches))


def _recorded(batches: Iterable[Event | tuple[Event, ...]]) -> Iterator[Recorded]:
    seq = 0
    for batch in batches:
        first = seq + 1
        for event in batch if isinstance(batch, tuple) else (batch,):
            seq += 1
            yield Recorded(seq, "job1", first, START + timedelta(seconds=seq), event)


def on_path(layout: Layout, place: str, key: CellKey) -> bool:
    """The walk over one cell's path: itself, its two lines, and each designator on these."""
    if place == str(key):
        return True
    matrix = next(one for one in layout.matrices if one.id == key.matrix)
    row, column = matrix.rows[key.row - 1], matrix.columns[key.column - 1]
    names = {f"{key.matrix}.r{key.row}", f"{key.matrix}.c{key.column}", *matrix.supply}
    for line in (row, column):
        names.update(line.path, line.supply)
    return place in names or place in {name.split("-")[0] for name in names}


CELLS = [cell.key for matrix in LAYOUT.matrices for cell in matrix.fitted]
LAMP_CELLS = [cell.key for cell in LAMPS.fitted]
PLACES = ["Q1", "Q2", "X5", "X5-3", "U7", "F2", "switches.c2", "switches.r1", "switches.r2c3", "lamps.r1c1"]


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """Any reading that can have been made on the machine."""
    matrix = draw(st.sampled_from(LAYOUT.matrices))
    rows, columns = matrix.size
    grid = [CellKey(matrix.id, row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
    some = st.lists(st.sampled_from(grid), unique=True, max_size=4).map(tuple)
    cell = draw(st.none() | st.sampled_from([cell.key for cell in matrix.fitted]))
    held = tuple(key for key in draw(some) if key != cell) if matrix.kind == "switch" else ()
    answered = draw(some if cell is None else some | st.none())
    faint = () if matrix.kind == "switch" else tuple(key for key in draw(some) if key not in (answered or ()))
    ohms = draw(st.none() | st.floats(0, 1e6)) if cell else None
    marks = [mark for mark in Mark if mark is not Mark.UNTESTED and _agrees(cell, mark, answered)]
    mark = draw(st.none() | st.sampled_from(marks)) if cell else None
    if cell and answered is None and mark is None and ohms is None:
        mark = Mark.DEAD
    return Reading(
        matrix=matrix.id,
        cell=cell,
        held=held,
        answered=answered,
        faint=faint,
        mark=mark,
        ohms=ohms,
        note=draw(st.text(max_size=8)),
        at=draw(st.none() | st.datetimes(datetime(1900, 1, 2), datetime(2199, 12, 30), timezones=st.just(UTC))),
        blew=draw(st.sampled_from([False, True, "F2"])),
    )


def _agrees(cell: CellKey | None, mark: Mark, answered: tuple[CellKey, ...] | None) -> bool:
    return answered is None or (cell in answered) is (mark is not Mark.DEAD)


EVENTS: st.SearchStrategy[Event] = st.one_of(
    readings().map(lambda reading: Read(reading=reading)),
    st.builds(Deferred, cell=st.sampled_from(CELLS), reason=st.sampled_from(["", "glass off"])),
    st.builds(
        Repaired,
        place=st.sampled_from(PLACES),
        did=st.sampled_from(["", "replaced"]),
        fitted=st.sampled_from(["", "an equal one"]),
        value=st.sampled_from(["", "0.6 V"]),
    ),
    st.just(Repaired(place="flipper link", did="new bush", outside=True)),
    st.builds(
        Found,
        finding=st.builds(Finding, place=st.sampled_from(PLACES), verdict=st.sampled_from(["good", "faulty"]))
        | st.builds(
            Finding,
            place=st.sampled_from(PLACES),
            verdict=st.sampled_from(["good", "faulty", "between"]),
            check=st.just("first wire"),
            code=st.sampled_from(["wire.switches.c2", "board.switches.c2"]),
            points=st.just(("here", "there")),
            value=st.sampled_from(["", "0.3 ohms"]),
            faults=st.sampled_from([("open:switches.c2",), ("open:Q2", "open:U1-2"), ()]),
        ),
        note=st.just(""),
    ),
    st.builds(RoundStarted, matrix=st.just("switches"), round=st.sampled_from(["walk", "roll"])),
    st.builds(
        RoundStarted,
        matrix=st.just("switches"),
        round=st.just("walk"),
        cells=st.just(tuple(CELLS[:2])),
        manner=st.sampled_from(["stepped", "paced", "all-lit"]),
    ),
    st.builds(RoundPaced, seconds=st.sampled_from([0.5, 2.0]), place=st.integers(0, 9), paused=st.booleans()),
    st.builds(RoundEnded),
    st.builds(SafetyChecked, item=st.just("earth pin"), passed=st.booleans(), note=st.sampled_from(["", "2 ohms"])),
    st.just(SafetyChecked(item="earth bond: door", passed=False, reading=2.4, limit=0.165, unit="ohms", source="x")),
    st.just(SafetyChecked(item="batteries", passed=False, waived=True, note="none fitted")),
    st.builds(Accepted, cell=st.sampled_from(LAMP_CELLS), note=st.sampled_from(["", "LED"]), back=st.booleans()),
    st.builds(
        FunctionChecked,
        section=st.sampled_from(["sound", "play test"]),
        item=st.sampled_from(["speakers", "bell"]),
        verdict=st.sampled_from(["good", "faulty", "comes and goes", "not fitted"]),
    ),
    st.builds(Noted, text=st.text(max_size=5)),
    st.one_of(
        st.fixed_dictionaries({"place": st.sampled_from(["", *PLACES])}),
        st.fixed_dictionaries({"safety": st.just("mains lead")}),
        st.fixed_dictionaries({"check": st.sampled_from(["wire.switches.c2", "board.switches.c2"])}),
    ).map(lambda what: PhotoTaken(photo="ab" * 32, width=1_600, height=1_200, size=400_000, caption="pin 3", **what)),
    st.builds(JobEdited, name=st.sampled_from([None, "bench 2"]), owner=st.sampled_from([None, "", "the harbour"])),
    st.builds(JobClosed, verdict=st.sampled_from(["runs", "lamps to do"])),
    st.just(JobReopened()),
    st.builds(JobArchived, hidden=st.booleans()),
)
BATCHES = st.lists(EVENTS, min_size=1, max_size=3).map(tuple)


def withdrawal_of(events: tuple[Recorded, ...], batch: int) -> Recorded:
    """The withdrawal of a batch, as the next event."""
    seq = events[-1].seq + 1
    return Recorded(seq, "job1", seq, START + timedelta(seconds=seq), Withdrawn(batch=batch))
