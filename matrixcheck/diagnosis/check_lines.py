"""Bench checks of wires: open, broken, grounded, shorted together, crossed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis import cautions
from matrixcheck.diagnosis.check_step import (
    CONTINUITY,
    GROUND,
    OPEN_CIRCUIT,
    Step,
    contact_of,
    first_cell,
    is_sensed,
    kind_of,
    loose_end,
    unplug,
)
from matrixcheck.diagnosis.names import cell_words, line_words, wire_words
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey, LineKey


def line_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """What tells of each member that is a wire, and whether a line is held on by its board or by its wire."""
    for fault in members:
        if fault.fault in _STEPS and (fault.fault is not FaultClass.OPEN or fault.part is None):
            yield _STEPS[fault.fault](layout, fault)
    yield from _unplug_and_try(layout, members)


def _first_wire(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    return Step(
        effort="first wire",
        do=f"Switch off, {unplug(layout, line)} and measure the wire to its first device.",
        points=(loose_end(layout, line), first_cell(layout, line)),
        expect=OPEN_CIRCUIT,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _break(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    order = [cell.key for cell in layout.matrix(line.matrix).cells_of(line)]
    lost = [cell for cell in order if cell in fault.cells]
    kept = [cell for cell in order if cell not in fault.cells]
    return Step(
        effort="across the break",
        do=f"Measure the {line_words(layout, line)} wire{wire_words(layout, line)} from lug to lug.",
        points=(_lug(layout, line, kept[-1]), _lug(layout, line, lost[0])),
        expect=OPEN_CIRCUIT,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _lug(layout: Layout, line: LineKey, cell: CellKey) -> str:
    return f"the {line.side} lug of {cell_words(layout, cell)}"


def _grounded(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    return Step(
        effort="wire to ground",
        do=f"Switch off, {unplug(layout, line)} and measure the loose wire against ground.",
        points=(loose_end(layout, line), GROUND),
        expect=CONTINUITY,
        caution=cautions.where_a_coil_stays_on(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _shorted(layout: Layout, fault: Fault) -> Step:
    first, second = fault.lines
    return Step(
        effort="two wires",
        do=f"Switch off, {unplug(layout, first, second)} and measure wire against wire, all switches open.",
        points=(loose_end(layout, first), loose_end(layout, second)),
        expect=CONTINUITY,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _crossed(layout: Layout, fault: Fault) -> Step:
    first, second = fault.lines
    return Step(
        effort="wire to the other line",
        do=f"Switch off, {unplug(layout, first, second)}; compare wire colours with the layout, then measure across.",
        points=(loose_end(layout, first), first_cell(layout, second)),
        expect=f"{CONTINUITY}: the wire leads to {line_words(layout, second)}",
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _unplug_and_try(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Stuck driver or grounded wire: with the plug off, an input that is stuck still shows, and so does a wire of a
    driven line that is grounded. Not tried on coils, which would be held on meanwhile."""
    stuck = [fault for fault in members if fault.fault is FaultClass.STUCK_ON]
    for fault in stuck:
        grounded = [each for each in members if each.fault is FaultClass.GROUNDED and each.lines == fault.lines]
        line = fault.lines[0]
        kind = layout.matrix(line.matrix).kind
        if not grounded or kind is Kind.COIL:
            continue
        contact = contact_of(layout, line)
        plug = f"plug {owner(contact)}" if contact else f"the end of the {line_words(layout, line)} wire"
        driven = kind is Kind.SWITCH and not is_sensed(layout, line)
        yield Step(
            effort="unplug and try again",
            do=f"Switch off, {unplug(layout, line)}, switch on and look at {line_words(layout, line)} in test mode.",
            points=(plug, "its header on the board"),
            power=True,
            expect="with the plug off "
            + ("one of its switches still shows more than itself" if driven else "it still shows"),
            caution=cautions.with_power(kind),
            confirms=(fault,) if is_sensed(layout, line) else tuple(grounded),
        )


_STEPS: dict[FaultClass, Callable[[Layout, Fault], Step]] = {
    FaultClass.OPEN: _first_wire,
    FaultClass.BREAK: _break,
    FaultClass.GROUNDED: _grounded,
    FaultClass.SHORTED_TOGETHER: _shorted,
    FaultClass.CROSSED: _crossed,
}
