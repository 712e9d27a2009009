"""Propose checks of one lamp or flash lamp: bulb and socket, what keeps it lit, a glow that is no fault."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import ABOUT_ZERO, GROUND, OPEN, ZERO_OHMS, Setup, Step, kind_of
from matrixcheck.diagnosis.result import Fault, Limits
from matrixcheck.layout.model import Cell, Kind, Layout
from matrixcheck.layout.wording import cell_words


def _setup(cell: Cell) -> Setup:
    return "" if cell.notes.reach not in ("", "playfield up") else "playfield up"


def dead_lamp(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the swap of a bulb: it needs no meter."""
    cell = layout.cell(fault.cells[0])
    named = cell_words(layout, cell.key)
    turn = " An LED: turn it round first." if cell.notes.fitted == "led" else ""
    yield Step(
        kind="swap a bulb",
        test="bulb",
        at=(cell.key,),
        short=f"Swap {cell.device} {cell.number}'s bulb with one that lights.",
        prepare="Switch off to swap bulbs.",
        do=f"Swap the bulb of {named} with one that lights next to it.{turn} Switch on and look at both in test mode. "
        "Then switch off and look at the socket.",
        points=(f"the socket of {named}", "a good bulb of the same type"),
        good="its old bulb lights in the other socket, and its own socket is clean and tight",
        faulty="its old bulb stays dark in the other socket, or its own socket is loose or green",
        then="Place still dark with a good bulb: scrape and bend the socket tabs; then diode, then wire.",
        power=True,
        setup=_setup(cell),
        hazard=cautions.at_a_bulb(kind_of(layout, fault)),
        confirms=(fault,),
    )


def lit_lamp(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the check of a lamp or flash lamp that stays lit by itself."""
    cell = layout.cell(fault.cells[0])
    if layout.matrix(cell.key.matrix).kind is Kind.LAMP and not layout.matrix(cell.key.matrix).rows_shared:
        yield _fed_from_elsewhere(layout, fault)
        return
    named = cell_words(layout, cell.key)
    do = f"Take the own wire of {named} off its driver-side lug."
    yield off_the_driver(layout, fault, kind="wire off", do=do, other=GROUND)


def _fed_from_elsewhere(layout: Layout, fault: Fault) -> Step:
    """Check a lamp of a string: it returns to ground by itself, so that only a second feed keeps it lit."""
    cell = layout.cell(fault.cells[0])
    named = cell_words(layout, cell.key)
    return Step(
        kind="volts at a lug",
        test="fed",
        at=(cell.key,),
        short=f"Take the own wire of lamp {cell.number} off its string, and measure volts at its lug.",
        prepare=f"Switch off. Take the own wire of {named} off its string. Switch on.",
        do="Command the string off. Measure volts, AC and DC, from that lug to the return.",
        points=(f"the feed lug of {named}", "the return"),
        good="none",
        faulty="volts: another wire feeds it",
        power=True,
        setup=_setup(cell),
        hazard=cautions.on(Kind.LAMP),
        confirms=(fault,),
    )


def off_the_driver(layout: Layout, fault: Fault, *, kind: str, do: str, other: str) -> Step:
    """Check a device that stays on by itself: its own wire off, its driver-side lug against ground."""
    cell = layout.cell(fault.cells[0])
    return Step(
        kind=kind,
        test="wire-off",
        at=(cell.key,),
        short=f"Take the own wire of {cell.device} {cell.number} off, and measure its lug to ground.",
        do=f"{do} Measure that lug to ground.",
        points=(f"the driver-side lug of {cell_words(layout, cell.key)}", other),
        good=f"{OPEN}, or the reading of a neighbour",
        faulty=f"{ABOUT_ZERO}, unlike its neighbours",
        setup="playfield up",
        hazard=cautions.held_on(kind_of(layout, fault)),
        limits=Limits(unit="ohms", good=(100, None), faulty=((0, ZERO_OHMS),)),
        confirms=(fault,),
    )


def ghost(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the check of an LED of a lamp matrix that glows faintly: mostly ghosting, and no shorted diode."""
    cell = layout.cell(fault.cells[0])
    if layout.matrix(cell.key.matrix).kind is not Kind.LAMP or cell.notes.fitted != "led":
        return
    yield _filament(
        layout,
        fault,
        test="ghost",
        good="dark: the LED only ghosts, and nothing is wrong",
        faulty="it glows as well",
        then="Ghosting LEDs of a lamp matrix are no fault.",
    )


def keep_warm(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the check of LEDs that glow on keep-warm resistors: no fault, if a filament bulb stays dark."""
    cell = layout.cell(fault.cells[0])
    step = _filament(
        layout,
        fault,
        test="glow",
        good="dark at rest: no fault",
        faulty="it glows at rest as well: something feeds it",
        then="To keep the LED, lift one leg of its keep-warm resistor. The resistor runs warm.",
    )
    yield step._replace(
        kind="swap an LED",
        at=(cell.key.matrix,),
        short="Put a filament bulb in place of one LED that glows, and look at rest.",
        do="Put a filament bulb in place of one LED that glows. Switch on and look at it at rest.",
        points=("the socket of an LED that glows", "a filament bulb of the same type"),
        harmless=True,
    )


def _filament(layout: Layout, fault: Fault, *, test: str, good: str, faulty: str, then: str) -> Step:
    cell = layout.cell(fault.cells[0])
    named = cell_words(layout, cell.key)
    return Step(
        kind="swap a ghosting LED",
        test=test,
        at=(cell.key,),
        short=f"Put a filament bulb in place of the LED of {cell.device} {cell.number}, and look.",
        prepare="Switch off to swap bulbs.",
        do=f"Put a filament bulb in place of the LED of {named}. Switch on and look at it at rest.",
        points=(f"the socket of {named}", "a filament bulb of the same type"),
        good=good,
        faulty=faulty,
        then=then,
        power=True,
        setup=_setup(cell),
        hazard=cautions.at_a_bulb(kind_of(layout, fault)),
        confirms=(fault,),
    )
