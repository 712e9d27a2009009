"""Propose checks of wires: open, broken, grounded, shorted together, crossed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    ABOUT_ZERO,
    GROUND,
    OPEN,
    OPEN_CIRCUIT,
    STEADY,
    Step,
    also_carries,
    contact_of,
    first_cell,
    is_sensed,
    kind_of,
    loose_end,
    made_quiet,
    unplug,
)
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.diagnosis.words.places import cell_words, line_words, wire_words
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey, LineKey


def line_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks for each member that is a wire, and for whether a line is held on by board or wire."""
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
        good=STEADY,
        expect=OPEN_CIRCUIT,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _break(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    order = [cell.key for cell in layout.matrix(line.matrix).cells_of(line)]
    lost = [cell for cell in order if cell in fault.cells]
    kept = [cell for cell in order if cell not in fault.cells]
    if _is_string(layout, line):
        return _dark_beyond(layout, fault, kept[-1], lost[0])
    return Step(
        effort="across the break",
        do=f"Measure the {line_words(layout, line)} wire{wire_words(layout, line)} from lug to lug.",
        points=(_lug(layout, line, kept[-1]), _lug(layout, line, lost[0])),
        good=STEADY,
        expect=OPEN_CIRCUIT,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _is_string(layout: Layout, line: LineKey) -> bool:
    matrix = layout.matrix(line.matrix)
    return matrix.kind is Kind.LAMP and not matrix.rows_shared


def _dark_beyond(layout: Layout, fault: Fault, last: CellKey, first: CellKey) -> Step:
    """Check by eye: a string's bulbs join feed and return on both sides of a break, which hides it from ohms."""
    line = fault.lines[0]
    return Step(
        effort="across the break",
        do=f"Light {line_words(layout, line)} and measure volts, AC and DC, from each feed lug to the return.",
        points=(_lug(layout, line, last), _lug(layout, line, first)),
        power=True,
        good="the same volts at both",
        expect="volts at the first, none at the second",
        caution=cautions.with_power(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _lug(layout: Layout, line: LineKey, cell: CellKey) -> str:
    return f"the {line.side} lug of {cell_words(layout, cell)}"


def _grounded(layout: Layout, fault: Fault) -> Step:
    line = fault.lines[0]
    return Step(
        effort="wire to ground",
        do=f"Switch off, {_freed(layout, line)}, and measure the loose wire against ground.",
        points=(loose_end(layout, line), GROUND),
        good=OPEN,
        expect=f"{ABOUT_ZERO}{_through_a_driver(layout, line)}",
        caution=cautions.where_a_coil_stays_on(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _shorted(layout: Layout, fault: Fault) -> Step:
    first, second = fault.lines
    if _joined_by_coils(layout, first):
        return _touching(layout, fault)
    return Step(
        effort="two wires",
        do=f"Switch off, {_freed(layout, first, second)}, and measure wire against wire.",
        points=(loose_end(layout, first), loose_end(layout, second)),
        good=f"{OPEN}{_in_series(layout, first)}",
        expect=ABOUT_ZERO,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _in_series(layout: Layout, line: LineKey) -> str:
    matrix = layout.matrix(line.matrix)
    return ", or the ohms of two coils in series" if matrix.kind is Kind.COIL and not matrix.has_diodes else ""


def _joined_by_coils(layout: Layout, line: LineKey) -> bool:
    """Return whether a line feeds coils without series diodes, which join it to the other feeds."""
    return bool(_in_series(layout, line)) and line.side == "column"


def _touching(layout: Layout, fault: Fault) -> Step:
    """Check by eye: two feeds of a bank without series diodes read about zero through their coils."""
    first, second = fault.lines
    return Step(
        effort="two wires",
        do=f"Switch off, {unplug(layout, first, second)}, and look along both wires from plug to coils.",
        points=(loose_end(layout, first), loose_end(layout, second)),
        good="each is whole and touches nothing",
        expect="bare copper of the one touches the other",
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _freed(layout: Layout, *lines: LineKey) -> str:
    """Word how to free wires from their boards, and from what joins them to others in the loom."""
    quiet = made_quiet(layout, lines[0])
    return f"{unplug(layout, *lines, *_behind_coils(layout, lines[0]))}{', ' if quiet else ''}{quiet}"


def _behind_coils(layout: Layout, line: LineKey) -> tuple[LineKey, ...]:
    """Return the lines with a plug at the other ends of a coil line's coils.

    Through these a meter would read their board.
    """
    matrix = layout.matrix(line.matrix)
    if matrix.kind is not Kind.COIL:
        return ()
    return tuple(key for key in matrix.lines if key.side != line.side and contact_of(layout, key))


def _through_a_driver(layout: Layout, line: LineKey) -> str:
    coils = layout.matrix(line.matrix).kind is Kind.COIL
    return "; the ohms of a coil mean a shorted driver behind it" if coils else ""


def _crossed(layout: Layout, fault: Fault) -> Step:
    first, second = fault.lines
    if _joined_by_coils(layout, first):
        return _followed(layout, fault)
    return Step(
        effort="wire to the other line",
        do=f"Switch off, {_freed(layout, first, second)}; compare wire colours with the layout, then measure across.",
        points=(loose_end(layout, first), first_cell(layout, second)),
        good=f"{OPEN}{_in_series(layout, first)}",
        expect=f"{ABOUT_ZERO}: the wire leads to {line_words(layout, second)}",
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _followed(layout: Layout, fault: Fault) -> Step:
    """Check by eye: two feeds that their coils join read the same on a meter."""
    first, second = fault.lines
    return Step(
        effort="wire to the other line",
        do=f"Switch off, {unplug(layout, first, second)}, and follow both wires by their colours from plug to coils.",
        points=(loose_end(layout, first), first_cell(layout, second)),
        good=f"it leads to {line_words(layout, first)}",
        expect=f"the wire leads to {line_words(layout, second)}",
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _unplug_and_try(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Check for a stuck driver or a grounded wire: with the plug off, a grounded driven wire still shows.

    Not tried on coils, which would be held on meanwhile; a sensed line is unplugged for the check of its input.
    """
    for fault in members:
        if fault.fault is not FaultClass.STUCK_ON or is_sensed(layout, fault.lines[0]):
            continue
        grounded = [each for each in members if each.fault is FaultClass.GROUNDED and each.lines == fault.lines]
        line = fault.lines[0]
        kind = layout.matrix(line.matrix).kind
        if not grounded or kind is Kind.COIL:
            continue
        contact = contact_of(layout, line)
        plug = f"plug {owner(contact)}" if contact else f"the end of the {line_words(layout, line)} wire"
        driven = kind is Kind.SWITCH
        yield Step(
            effort="unplug and try again",
            do=f"Switch off, {unplug(layout, line)}, switch on and look at {line_words(layout, line)} in test mode."
            + also_carries(layout, line),
            points=(plug, "its header on the board"),
            power=True,
            good="with the plug off nothing shows" if driven else "with the plug off it no longer shows",
            expect="with the plug off "
            + ("one of its switches still shows more than itself" if driven else "it still shows"),
            caution=cautions.with_power(kind),
            confirms=tuple(grounded),
        )


_STEPS: dict[FaultClass, Callable[[Layout, Fault], Step]] = {
    FaultClass.OPEN: _first_wire,
    FaultClass.BREAK: _break,
    FaultClass.GROUNDED: _grounded,
    FaultClass.SHORTED_TOGETHER: _shorted,
    FaultClass.CROSSED: _crossed,
}
