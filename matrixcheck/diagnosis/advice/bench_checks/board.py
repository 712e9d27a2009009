"""Propose checks at the board's pins, the loom's plug off: a driver or input that is stuck, and board or loom."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.relays import live_feed
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    Step,
    also_carries,
    contact_of,
    is_fed,
    is_sensed,
    kind_of,
    unplug,
)
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.diagnosis.words.places import cell_words, line_words
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.model import Cell, Kind, Layout
from matrixcheck.layout.places import LineKey


def stuck_driver(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of whether a driver or an input is stuck. Coils are never powered for it."""
    line, kind = fault.lines[0], kind_of(layout, fault)
    relay = layout.line(line).select
    if relay:
        yield live_feed(layout, fault, relay)
    elif is_sensed(layout, line):
        yield _stuck_input(layout, fault)
    elif kind is Kind.COIL or (fault.part and part_class(fault.part) == "transistor"):
        yield _shorted_driver(layout, fault)
    else:
        yield _stuck_pin(layout, fault)


def _shorted_driver(layout: Layout, fault: Fault) -> Step:
    line, kind = fault.lines[0], kind_of(layout, fault)
    other = "its supply" if is_fed(layout, line) else "ground"
    name = fault.part or f"the driver of {line_words(layout, line)}"
    warm = " A keep-warm resistor reads its ohms." if kind is Kind.COIL else ""
    return Step(
        effort="transistor",
        do=f"Switch off, {unplug(layout, line)}, and make a diode test at {name}, both ways. Before a new one goes in, "
        f"check what drives it, and the device behind it with its diode.{warm}",
        points=(f"the output of {name}: board pin {_pin(layout, line)}", other),
        good="0.4 to 0.7 V one way, OL the other; or OL both ways, as on a like one",
        expect="under 0.1 V both ways, or under 5 ohms",
        caution=cautions.where_a_coil_stays_on(kind),
        confirms=(fault,),
    )


def _stuck_input(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    matrix = layout.matrix(line.matrix)
    high = f"{matrix.volts:g} V" if matrix.volts else "the volts of its neighbours"
    return Step(
        effort="unplug and look",
        do=f"Switch off, {unplug(layout, line)}, switch on, press nothing, look at the switch test, measure DC volts."
        + also_carries(layout, line),
        points=(f"board pin {_pin(layout, line)}", "ground"),
        power=True,
        good=f"{line_words(layout, line)} no longer shows, and the pin stands near {high}",
        expect=f"{line_words(layout, line)} still shows, or the pin is near 0 V",
        caution=cautions.with_power(matrix.kind),
        confirms=(fault,),
    )


def _stuck_pin(layout: Layout, fault: Fault) -> Step:
    """Check a driver whose transistor is unknown, or a string's feed: its pin beside those of its neighbours."""
    line, kind = fault.lines[0], kind_of(layout, fault)
    named, pin = line_words(layout, line), f"board pin {_pin(layout, line)}"
    off = f"Switch off, {unplug(layout, line)}"
    if kind is Kind.SWITCH:
        do, points = f"{off}, switch on, and probe the board pin in test mode.", (pin, "logic ground")
        good, expect = "it pulses like its neighbours", "held low without a pulse, though its neighbours pulse"
    elif is_fed(layout, line):
        do, points = f"{off}, switch on, no lamp in test, and measure volts, AC and DC.", (pin, "lamp ground")
        good, expect = "none, or as at its neighbours", "the full supply, steady, unlike its neighbours"
    else:
        do, points = f"{off}, clip a test lamp to the board pin, switch on, no lamp in test.", (pin, "lamp supply")
        good, expect = f"the test lamp is dark unless {named} is commanded", "the test lamp is lit all the time"
    return Step(
        effort="board pin in test mode",
        do=do + also_carries(layout, line),
        points=points,
        power=True,
        good=good,
        expect=expect,
        caution=cautions.with_power(kind),
        confirms=(fault,),
    )


def board_or_loom(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks of whether the signal of a dead line of switches or lamps leaves the board at all."""
    opens = [fault for fault in members if fault.fault is FaultClass.OPEN and len(fault.lines) == 1]
    board = tuple(f for f in opens if f.part and part_class(f.part) in ("transistor", "integrated circuit"))
    if not board or len(board) == len(members):
        return
    line = board[0].lines[0]
    matrix = layout.matrix(line.matrix)
    if contact_of(layout, line) is None or matrix.kind is Kind.COIL:
        return
    if matrix.kind is Kind.LAMP:
        yield _test_lamp(layout, line, board)
    elif not matrix.rows_shared:
        yield _bridge(layout, line, board)
    elif partner := _partner(layout, line):
        yield _clip_a_diode(layout, line, partner, board)


def _test_lamp(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Step:
    """Check with the plug off: a grounded wire isn't taken for a dead board. A sink shows nothing without a lamp."""
    named, pin = line_words(layout, line), f"board pin {contact_of(layout, line)}"
    return Step(
        effort="board pin in test mode",
        do=f"Switch off, {unplug(layout, line)}, clip a test lamp to the board pin, switch on, {named} in test."
        + also_carries(layout, line),
        points=(pin, "lamp ground" if is_fed(layout, line) else "lamp supply"),
        power=True,
        good="the test lamp lights or flickers, as at a neighbour's pin: the board is good",
        expect=f"it stays dark while {named} is exercised",
        caution=cautions.with_power(Kind.LAMP),
        confirms=board,
    )


def _bridge(layout: Layout, line: LineKey, board: tuple[Fault, ...]) -> Step:
    """Check a direct input at the board's own plug: one further out would leave a stretch of wire in the test."""
    named, contact = line_words(layout, line), contact_of(layout, line)
    back = next((contact_of(layout, key) for key in layout.matrix(line.matrix).lines if key.side == "column"), None)
    return Step(
        effort="board pin in test mode",
        do=f"Switch off, {unplug(layout, line)}, bridge the two board pins, switch on, and look at the switch test."
        + also_carries(layout, line),
        points=(f"board pin {contact}", f"board pin {back}, its return" if back else "its return pin, or logic ground"),
        power=True,
        good=f"{named} shows: the board is good",
        expect=f"nothing shows on {named}",
        caution=cautions.with_power(Kind.SWITCH),
        confirms=board,
    )


def _partner(layout: Layout, line: LineKey) -> tuple[LineKey, Cell] | None:
    """Find a line of the other side with a known pin, and the switch that joins it to this one."""
    for cell in layout.matrix(line.matrix).cells_of(line):
        other = cell.row_line if line.side == "column" else cell.column_line
        if contact_of(layout, other):
            return other, cell
    return None


def _clip_a_diode(layout: Layout, line: LineKey, partner: tuple[LineKey, Cell], board: tuple[Fault, ...]) -> Step:
    other, cell = partner
    driven = other if is_sensed(layout, line) else line
    here, there, banded = (contact_of(layout, key) for key in (line, other, driven))
    return Step(
        effort="board pin in test mode",
        do=f"Switch off, {unplug(layout, line, other)}. Clip a diode from board pin {here} to board pin {there}, band "
        f"at {banded}. Check twice that neither pin carries lamp or coil volts.{also_carries(layout, line, other)} "
        "Switch on and look at the switch test. Where nothing shows, switch off and turn the diode round once.",
        points=(f"board pin {here}", f"board pin {there}"),
        power=True,
        good=f"{cell_words(layout, cell.key)} shows: the board is good",
        expect=f"nothing shows on {line_words(layout, line)} either way round",
        caution=cautions.with_power(Kind.SWITCH),
        confirms=board,
    )


def _pin(layout: Layout, line: LineKey) -> str:
    return contact_of(layout, line) or f"of {line_words(layout, line)}"
