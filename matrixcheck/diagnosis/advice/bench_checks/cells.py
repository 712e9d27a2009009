"""Propose checks of one cell: its device, its diode, its own wire, its keep-warm resistor."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import ABOUT_ZERO, GROUND, OPEN, Step, kind_of
from matrixcheck.diagnosis.forward.coil_resistance import USUAL_TOLERANCE, figure
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.diagnosis.words.places import cell_words
from matrixcheck.layout.model import Cell, Kind, Layout
from matrixcheck.layout.places import CellKey

_DIODES = {FaultClass.DIODE_OPEN: "OL both ways (open)", FaultClass.DIODE_SHORTED: "under 0.1 V both ways (shorted)"}


def cell_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks for each member within a cell; one measurement serves all faults of one diode."""
    diodes: dict[CellKey, list[Fault]] = {}
    for fault in members:
        if fault.fault in _DIODES:
            diodes.setdefault(fault.cells[0], []).append(fault)
        elif fault.fault in _STEPS:
            yield _STEPS[fault.fault](layout, fault)
    for key, faults in diodes.items():
        yield _diode(layout, key, faults)


def _diode(layout: Layout, key: CellKey, faults: Sequence[Fault]) -> Step:
    named = cell_words(layout, key)
    coil = layout.cell(key).device == "coil"
    lifted = "one leg lifted" if kind_of(layout, faults[0]) is Kind.COIL else "its device open or one leg lifted"
    which = " (the one in series, not the one across the coil)" if coil else ""
    return Step(
        effort="diode",
        do=f"Diode test on the diode of {named}{which}, both ways, {lifted}.",
        points=(f"the banded end of the diode of {named}", "its other end"),
        good="0.4 to 0.8 V one way, OL the other",
        expect=", or ".join(_DIODES[fault.fault] for fault in faults),
        caution=cautions.before_measuring(kind_of(layout, faults[0])),
        confirms=tuple(faults),
    )


def _reversed(layout: Layout, fault: Fault) -> Step:
    """Check by eye: a meter can't, as the diode conducts towards its band whichever way round it sits."""
    named = cell_words(layout, fault.cells[0])
    return Step(
        effort="look at a diode",
        do=f"Look at which lug the band of the diode of {named} points to; compare two neighbours of the same matrix.",
        points=(f"the diode of {named}", "those of its neighbours"),
        good="its band points as theirs do",
        expect="it is the odd one out: its band points to the other lug",
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _dead(layout: Layout, fault: Fault) -> Step:
    cell = layout.cell(fault.cells[0])
    if cell.device in ("lamp", "flash lamp"):
        return _bulb(layout, fault, cell)
    if cell.device == "switch":
        return _dead_switch(layout, fault, cell)
    ohms = cell.notes.ohms
    good = f"{figure(ohms)} ohms" if ohms else "the ohms of a like coil"
    do = "Measure the coil across its lugs; where it is low, again with one lead off."
    expect = "over twice that, or open: look at its lugs; or under half: shorted turns, don't power it"
    return _across(layout, fault, do, f"{good}, 10 % more or less", expect)


def _dead_switch(layout: Layout, fault: Fault, cell: Cell) -> Step:
    """Check a switch that doesn't answer.

    One that rests closed opens when it is actuated; a light beam has no contacts to measure, but an output.
    """
    beam = " A light beam has no contacts: wipe it, and look at its sender through a phone."
    if cell.notes.rest == "closed":
        do = f"Wipe or clean it. Measure across the contacts at rest, then actuated.{beam}"
        return _across(
            layout,
            fault,
            do,
            "about zero at rest, open when actuated",
            "the same at rest and actuated",
        )
    do = f"Clean it. Measure across the contacts, common and open lug, and press; then follow its own wires.{beam}"
    return _across(layout, fault, do, "open, and under 5 ohms when pressed", "still open when pressed")


def _bulb(layout: Layout, fault: Fault, cell: Cell) -> Step:
    turn = " An LED may only be the wrong way round." if cell.notes.fitted == "led" else ""
    return Step(
        effort="swap a bulb",
        do=f"Switch off, swap the bulb of {cell_words(layout, cell.key)} with one that works, switch on, look, "
        f"then at its socket and wire with the power off.{turn}",
        points=(f"the socket of {cell_words(layout, cell.key)}", "a good bulb of the same type"),
        power=True,
        good="its old bulb lights in the other socket",
        expect="the good bulb lights here, or socket or wire are seen to be bad",
        caution=cautions.before_a_bulb(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _stuck(layout: Layout, fault: Fault) -> Step:
    cell = layout.cell(fault.cells[0])
    if cell.device == "switch":
        actuated = " while it is actuated, as it rests closed" if cell.notes.rest == "closed" else ", not pressed"
        do = f"Look for a ball, a bent blade or a blob. Slip one wire off and measure across the contacts{actuated}."
        return _across(layout, fault, do, OPEN, "less than 10 kilohms")
    do = "Take its own wire off at the driver-side lug and measure that lug against ground."
    if layout.matrix(cell.key.matrix).kind is Kind.LAMP and not layout.matrix(cell.key.matrix).rows_shared:
        do = "Take its own wire off the line, and all bulbs of the line out; measure the lug against ground."
    step = _across(layout, fault, do, f"{OPEN}, or the reading of a neighbour", f"{ABOUT_ZERO}, unlike its neighbours")
    return step._replace(
        points=(f"the driver-side lug of {cell_words(layout, cell.key)}", GROUND),
        caution=cautions.where_a_coil_stays_on(kind_of(layout, fault)),
    )


def _wrong(layout: Layout, fault: Fault) -> Step:
    notes = layout.cell(fault.cells[0]).notes
    tolerance = f"{(notes.tolerance or USUAL_TOLERANCE) * 100:g} %"
    due = f"{figure(notes.ohms)} ohms ±{tolerance}" if notes.ohms else "its value"
    do = "Let it cool to room temperature, take one lead off, measure again, and read the part number on its wrapper."
    return _across(layout, fault, do, f"within {due}", f"still outside {due}, or a part number of another coil")


def _across(layout: Layout, fault: Fault, do: str, good: str, expect: str) -> Step:
    named = cell_words(layout, fault.cells[0])
    return Step(
        effort="device across its lugs",
        do=f"{named[:1].upper()}{named[1:]}: {do[:1].lower()}{do[1:]}",
        points=(f"one lug of {named}", "its other lug"),
        good=good,
        expect=expect,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _glow(layout: Layout, fault: Fault) -> Step:
    named = cell_words(layout, fault.cells[0])
    return Step(
        effort="swap a bulb",
        do=f"Switch off, put a filament bulb in place of the LED of {named}, switch on and look at rest.",
        points=(f"the socket of {named}", "a filament bulb of the same type"),
        power=True,
        good="it glows at rest as well: then something feeds it",
        expect="dark at rest: no fault, the LED glowed on the keep-warm resistor's current",
        caution=cautions.before_a_bulb(kind_of(layout, fault)),
        confirms=(fault,),
    )


_STEPS: dict[FaultClass, Callable[[Layout, Fault], Step]] = {
    FaultClass.DEVICE_DEAD: _dead,
    FaultClass.DEVICE_STUCK: _stuck,
    FaultClass.DIODE_REVERSED: _reversed,
    FaultClass.WRONG_DEVICE: _wrong,
    FaultClass.KEEP_WARM_GLOW: _glow,
}
