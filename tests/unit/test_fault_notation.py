"""`FAULT:WHERE`: what is typed names one fault of the layout, and every fault of a layout can be typed."""

from __future__ import annotations

import pytest
from diagnosis_case import machine
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.machine.fault_notation import fault_at, format_fault, parse_fault
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.places import CellKey, LineKey
from tests.machines import shipped_layout

MACHINE = machine()
COLUMN_1 = LineKey("switches", "column", 1)
COLUMN_2 = LineKey("switches", "column", 2)
ROW_1, ROW_2 = LineKey("switches", "row", 1), LineKey("switches", "row", 2)


def cells(*places: tuple[int, int], matrix: str = "switches") -> tuple[CellKey, ...]:
    return tuple(CellKey(matrix, row, column) for row, column in places)


FIRST_COLUMN = cells((1, 1), (2, 1), (3, 1), (4, 1))


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("open:Q1", Fault(fault=FaultClass.OPEN, part="Q1", lines=(COLUMN_1,), cells=FIRST_COLUMN)),
        ("open:X5-1", Fault(fault=FaultClass.OPEN, part="X5-1", lines=(COLUMN_1,), cells=FIRST_COLUMN)),
        ("open:switches.c1", Fault(fault=FaultClass.OPEN, lines=(COLUMN_1,), cells=FIRST_COLUMN)),
        ("stuck-on:switches.c1", Fault(fault=FaultClass.STUCK_ON, part="Q1", lines=(COLUMN_1,), cells=FIRST_COLUMN)),
        ("stuck-on:Q1", Fault(fault=FaultClass.STUCK_ON, part="Q1", lines=(COLUMN_1,), cells=FIRST_COLUMN)),
        ("grounded:switches.c1", Fault(fault=FaultClass.GROUNDED, lines=(COLUMN_1,), cells=FIRST_COLUMN)),
        # The chain of column 1 is 3, 1, 2, 4: after two cells the second and the fourth row are lost.
        (
            "break:switches.c1:2",
            Fault(fault=FaultClass.BREAK, lines=(COLUMN_1,), cells=cells((2, 1), (4, 1)), after=2),
        ),
        # The chain of column 2 is unknown: a count takes its cells by number, and cells can be named instead.
        ("break:switches.c2:2", Fault(fault=FaultClass.BREAK, lines=(COLUMN_2,), cells=cells((4, 2)), after=2)),
        (
            "break:switches.c2:r1c2+r4c2",
            Fault(fault=FaultClass.BREAK, lines=(COLUMN_2,), cells=cells((1, 2), (4, 2)), after=1),
        ),
        (
            "crossed:switches.r2:switches.r1",
            Fault(
                fault=FaultClass.CROSSED,
                lines=(ROW_1, ROW_2),
                cells=cells((1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3)),
                other=ROW_2,
            ),
        ),
        ("diode-shorted:switches.r2c3", Fault(fault=FaultClass.DIODE_SHORTED, cells=cells((2, 3)))),
        ("diode-shorted:switches.10", Fault(fault=FaultClass.DIODE_SHORTED, cells=cells((2, 3)))),
        ("wrong-device:coils.1", Fault(fault=FaultClass.WRONG_DEVICE, cells=cells((1, 1), matrix="coils"))),
        ("keep-warm-glow:coils", Fault(fault=FaultClass.KEEP_WARM_GLOW, cells=cells((1, 2), (2, 2), matrix="coils"))),
    ],
)
def test_what_is_typed_names_one_fault_of_the_layout(text: str, fault: Fault) -> None:
    assert parse_fault(text, MACHINE) == fault


def test_a_plug_takes_hold_of_the_lines_of_every_matrix_it_carries() -> None:
    fault = parse_fault("unplugged:X5", MACHINE)
    assert fault.lines == (COLUMN_1, COLUMN_2, LineKey("lamps", "column", 1))
    assert {cell.matrix for cell in fault.cells} == {"switches", "lamps"}


def test_a_fuse_takes_hold_of_every_column_that_it_feeds() -> None:
    fault = parse_fault("fuse-blown:F2", MACHINE)
    assert (fault.part, len(fault.lines), len(fault.cells)) == ("F2", 2, 6)


def test_a_relay_without_a_position_is_stuck_at_rest_and_takes_hold_of_both_sides() -> None:
    fault = parse_fault("relay-stuck:K1", MACHINE)
    assert fault.when == "rest"
    assert fault.lines == (LineKey("coils", "column", 1), LineKey("coils", "column", 2))


@pytest.mark.parametrize("name", ["saltmarsh-tram", "coil-8x2", "lamp-8x8"])
def test_every_fault_of_a_shipped_layout_can_be_typed_and_is_read_back_equal(name: str) -> None:
    layout = shipped_layout(name)
    faults = [fault for fault, _ in faults_of(layout)]
    assert len(faults) > 100
    wrong = [
        fault for fault in (*faults, *glow_faults(layout)) if parse_fault(format_fault(fault, layout), layout) != fault
    ]
    assert wrong == []


@given(st.sets(st.sampled_from(cells((1, 2), (2, 2), (4, 2))), min_size=1, max_size=2))
def test_any_set_of_lost_cells_on_an_unknown_chain_can_be_typed(lost: set[CellKey]) -> None:
    fault = fault_at(MACHINE, FaultClass.BREAK, line=COLUMN_2, cells=sorted(lost))
    assert set(fault.cells) == lost
    assert parse_fault(format_fault(fault, MACHINE), MACHINE) == fault


@given(st.text(max_size=60) | st.from_regex(r"[a-z-]{4,16}:[\w.+:-]{0,20}", fullmatch=True))
def test_any_text_is_a_fault_or_refused_in_one_line(text: str) -> None:
    refused = None
    try:
        assert parse_fault(text, MACHINE).cells
    except UsageError as error:
        refused = error
    assert refused is None or (refused.hint and "\n" not in str(refused))


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("opne:Q3", "no fault is called 'opne': did you mean 'open'?"),
        ("open:Q4", "no line runs through 'Q4': take one of Q1, Q2, Q11, Q21"),
        ("open", "doesn't say where"),
        ("open:", "doesn't say where"),
        ("open:Q1:Q2", "doesn't say where"),
        ("open:X5", "X5 is a connector: write unplugged:X5"),
        ("open:K1", "K1 is a relay: write relay-stuck:K1"),
        ("open:switchs.c1", "no matrix 'switchs': did you mean 'switches'?"),
        ("open:switches.c9", "no line switches.c9: switches has columns 1 to 3"),
        ("open:lighting.r1", "no line lighting.r1: lighting has no shared rows"),
        ("open:c1", "'open:c1' doesn't say in which matrix: write one of switches, lamps"),
        ("open:Q11-2", "no line runs through 'Q11-2': did you mean 'Q11'?"),
        ("open:switches.19x", "'switches.19x' is not a line"),
        ("unplugged:X5-1", "X5-1 is not a connector: did you mean 'X5'?"),
        ("unplugged:F2", "F2 is not a connector"),
        ("fuse-blown:Q1", "Q1 is not a fuse"),
        ("relay-stuck:K1:stuck", "names no position"),
        ("break:switches.c1", "doesn't say where"),
        (
            "break:switches.c1:0",
            "switches.c1 has 4 cells, so that a break has 1 to 3 before it: write open:switches.c1",
        ),
        ("break:switches.c2:5", "1 to 2 before it"),
        ("break:switches.c1:r1c2", "switches.r1c2 is not on switches.c1"),
        ("break:switches.c2:r1c2+r2c2+r4c2", "every cell of switches.c2 lies beyond the break"),
        ("crossed:switches.r1", "doesn't say where"),
        ("crossed:switches.r1:switches.c1", "names no two lines of one side"),
        ("crossed:switches.r1:switches.r1", "names no two lines of one side"),
        ("stuck-on:U4", "'stuck-on:U4': U4 is in the path of 2 lines: name one, as in stuck-on:switches.c1"),
        ("diode-open:switches.r3c2", "nothing is fitted at switches.r3c2"),
        ("diode-open:switches.99", "nothing is fitted at switches.99"),
        ("diode-open:switches", "'switches' is not a cell"),
        ("keep-warm-glow:lamps", "lamps has no LED on a keep-warm resistor"),
        ("open:" + "9" * 5000, "is no fault"),
    ],
)
def test_a_slip_gives_one_line_with_what_to_write(text: str, problem: str) -> None:
    with pytest.raises(UsageError) as refused:
        parse_fault(text, MACHINE)
    assert problem in str(refused.value)
    assert "\n" not in str(refused.value)
