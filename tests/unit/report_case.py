"""A small invented machine and an evening on it, for the tests of reports and commands."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from matrixcheck.diagnosis.result import (
    BenchCheck,
    CellState,
    Diagnosis,
    Explanation,
    Fault,
    FaultClass,
    NextTest,
    Searched,
    Suspect,
)
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.events import Deferred, Event, Found, JobOpened, Noted, Read, Recorded, Repaired, SafetyChecked
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.report.sheet import Sheet

LAYOUT_TEXT = """
format = 1
name = "Reed Warbler"

[[matrix]]
id = "switches"
kind = "switch"
name = "switch matrix"
cells = [
  ["left lane", "pond 1", "kiosk", ""],
  ["right lane", "pond 2", "reed bank", "boat"],
  ["nest", "pond 3", "", "jetty <& co>"],
]

  [[matrix.column]]
  wire = "GN/BN"
  path = ["U4-1", "Q1", "X5-1"]

  [[matrix.column]]
  path = ["U4-2", "Q2", "X5-2"]
  chain = [6, 4, 5]

  [matrix.cell.4]
  reach = "glass off"

  [matrix.cell.11]
  reach = "hand"

[[matrix]]
id = "doors"
kind = "switch"
rows_shared = false
cells = [["coin door"], ["back box door"]]
"""

LAYOUT = parse_layout(LAYOUT_TEXT, "reed-warbler.toml")
START = datetime(2031, 3, 1, 18, 0, tzinfo=UTC)


def at(row: int, column: int, matrix: str = "switches") -> CellKey:
    """A place in the small machine."""
    return CellKey(matrix, row, column)


def seen(row: int, column: int, *answered: CellKey, **more: object) -> Read:
    """An exercise of one switch, and what answered."""
    return Read(reading=Reading(matrix="switches", cell=at(row, column), answered=answered, **more))  # type: ignore[arg-type]


EVENTS: tuple[Event, ...] = (
    JobOpened(name="Evening at the pond", serial="=7/12", owner="Invented Club", layout=LAYOUT),
    SafetyChecked(item="earth bond of the coin door", passed=True),
    SafetyChecked(item="mains lead", passed=False, note="sheath cut"),
    seen(1, 1, at(1, 1)),
    seen(2, 1, at(2, 1), at(1, 1)),
    seen(3, 1, at(1, 1)),
    seen(1, 2),
    seen(2, 2, faint=(at(3, 2),)),
    Read(reading=Reading(matrix="switches", cell=at(2, 3), mark=Mark.STUCK, ohms=3.5)),
    Read(reading=Reading(matrix="switches", cell=at(2, 3), mark=Mark.WORKING)),
    Read(reading=Reading(matrix="doors", cell=at(1, 1, "doors"), mark=Mark.WORKING)),
    Deferred(cell=at(3, 2), reason="ball stuck there"),
    Found(finding=Finding(place="Q2", verdict="good"), note="swapped with Q1"),
    Repaired(place="switches.r2c3", note="new leaf"),
    Noted(text="the <b>jetty</b> switch is bent"),
)


def state_after(*events: Event) -> JobState:
    """A job after these events, a minute apart, each in a batch of its own."""
    return replay(
        Recorded(seq, "pond", seq, START + timedelta(minutes=seq), event) for seq, event in enumerate(events, 1)
    )


OPEN_COLUMN = Fault(
    fault=FaultClass.OPEN, part="Q2", lines=(LineKey("switches", "column", 2),), cells=(at(1, 2), at(2, 2), at(3, 2))
)


def suspect(
    name: str, probability: float, says: str, *cells: CellKey, member: Fault | None = None, **more: object
) -> Suspect:
    """A suspect with the cells that it explains; by default a device that is dead."""
    member = member or Fault(fault=FaultClass.DEVICE_DEAD, cells=cells)
    whole: dict[str, object] = {"contradicts": (), "untested": (), **more}
    return Suspect.model_validate(
        {"id": name, "probability": probability, "members": (member,), "explains": cells, "says": says, **whole}
    )


DIAGNOSIS = Diagnosis(
    explanations=(
        Explanation(probability=0.94, suspects=("s1",)),
        Explanation(probability=0.05, suspects=("s2", "s3")),
        Explanation(probability=0.004, suspects=()),
    ),
    suspects=(
        suspect("s1", 0.94, "Driver Q2 is open", at(1, 2), at(2, 2), member=OPEN_COLUMN, untested=(at(3, 2),)),
        suspect("s2", 0.05, "pond 1 is dead by itself", at(1, 2)),
        suspect("s3", 0.05, "pond 2 is dead by itself", at(2, 2), contradicts=(at(1, 1),)),
    ),
    cells=tuple(
        CellState(
            cell=cell.key,
            number=cell.number,
            name=cell.name,
            mark=Mark.DEAD if cell.number in (3, 4, 5) else Mark.WORKING if cell.number < 3 else Mark.UNTESTED,
            private=0.02,
        )
        for cell in LAYOUT.matrix("switches").fitted
    ),
    next=(NextTest(matrix="switches", cell=at(3, 2), gain=0.61, says="Press 6 pond 3"),),
    checks=(
        BenchCheck(
            suspect="s1",
            suspects=("s1",),
            code="driver-short.Q2",
            short="Measure from the collector of Q2 to ground.",
            splits=(Fault(fault=FaultClass.OPEN, part="Q2"),),
            chances=(0.9,),
            do="Measure from the collector of Q2 to ground",
            points=("Q2", "ground"),
            power=False,
            expect="a diode drop",
            caution="isolate first",
            probability=0.9,
            cost=2.0,
        ),
    ),
    searched=Searched(exact=False, seconds=0.01, gap=0.1),
)


def sheet_of_the_evening(*more: Event) -> Sheet:
    """The evening, and what came after it, as a report has it."""
    state = state_after(*EVENTS, *more)
    return Sheet(state, DIAGNOSIS, coverage_of(state), later_list(state), START + timedelta(hours=3))
