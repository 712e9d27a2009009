"""Bench checks of one cell: its device, its diode, its own wire, its keep-warm resistor."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis import cautions
from matrixcheck.diagnosis.check_step import CONTINUITY, GROUND, Step, kind_of
from matrixcheck.diagnosis.names import cell_words
from matrixcheck.diagnosis.ohms import USUAL_TOLERANCE, figure
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import CellKey

_DIODE = {
    FaultClass.DIODE_OPEN: "it conducts neither way (open)",
    FaultClass.DIODE_SHORTED: "it conducts both ways (shorted)",
    FaultClass.DIODE_REVERSED: "it conducts towards the end without the band (wrong way round)",
}


def cell_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """What tells of each member that lies within a cell; the faults of one diode come out of one measurement."""
    diodes: dict[CellKey, list[Fault]] = {}
    for fault in members:
        if fault.fault in _DIODE:
            diodes.setdefault(fault.cells[0], []).append(fault)
        elif fault.fault in _STEPS:
            yield _STEPS[fault.fault](layout, fault)
    for key, faults in diodes.items():
        yield _diode(layout, key, faults)


def _diode(layout: Layout, key: CellKey, faults: Sequence[Fault]) -> Step:
    named = cell_words(layout, key)
    return Step(
        effort="diode",
        do=f"Diode test on the diode of {named}, both ways, its device open or one leg lifted.",
        points=(f"the banded end of the diode of {named}", "its other end"),
        expect=", or ".join(_DIODE[fault.fault] for fault in faults),
        caution=cautions.before_measuring(kind_of(layout, faults[0])),
        confirms=tuple(faults),
    )


def _dead(layout: Layout, fault: Fault) -> Step:
    cell = layout.cell(fault.cells[0])
    if cell.device in ("lamp", "flash lamp"):
        return _bulb(layout, fault, cell)
    if cell.device == "coil":
        due = f" ({figure(cell.notes.ohms)} ohms when good)" if cell.notes.ohms else ""
        do, expect = f"Measure the coil{due} across its lugs, one lead off.", "no continuity, or far from its value"
    else:
        do = "Measure across the contacts and press the switch; then follow its own wires."
        expect = "no continuity when pressed"
    return _across(layout, fault, do, expect)


def _bulb(layout: Layout, fault: Fault, cell: Cell) -> Step:
    turn = " An LED may only be the wrong way round." if cell.notes.fitted == "led" else ""
    return Step(
        effort="swap a bulb",
        do=f"Put a bulb known to be good into {cell_words(layout, cell.key)}; look at its socket and wire.{turn}",
        points=(f"the socket of {cell_words(layout, cell.key)}", "a good bulb of the same type"),
        expect="it lights, or socket or wire are seen to be bad",
        caution=cautions.before_a_bulb(),
        confirms=(fault,),
    )


def _stuck(layout: Layout, fault: Fault) -> Step:
    cell = layout.cell(fault.cells[0])
    if cell.device == "switch":
        return _across(layout, fault, "Slip one wire off and measure across the contacts, not pressed.", CONTINUITY)
    step = _across(layout, fault, "Take its own wire off the line and measure the lug against ground.", CONTINUITY)
    return step._replace(
        points=(step.points[0], GROUND),
        caution=cautions.where_a_coil_stays_on(kind_of(layout, fault)),
    )


def _wrong(layout: Layout, fault: Fault) -> Step:
    notes = layout.cell(fault.cells[0]).notes
    tolerance = f"{(notes.tolerance or USUAL_TOLERANCE) * 100:g} %"
    due = f"{figure(notes.ohms)} ohms ±{tolerance}" if notes.ohms else "its value"
    do = "Let it cool to room temperature, take one lead off, measure again, and read the part number on its wrapper."
    return _across(layout, fault, do, f"still outside {due}, or a part number of another coil")


def _across(layout: Layout, fault: Fault, do: str, expect: str) -> Step:
    named = cell_words(layout, fault.cells[0])
    return Step(
        effort="device across its lugs",
        do=f"{named[:1].upper()}{named[1:]}: {do[:1].lower()}{do[1:]}",
        points=(f"one lug of {named}", "its other lug"),
        expect=expect,
        caution=cautions.before_measuring(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _glow(layout: Layout, fault: Fault) -> Step:
    named = cell_words(layout, fault.cells[0])
    return Step(
        effort="swap a bulb",
        do=f"Put a filament bulb of the right type in place of the LED of {named}, then look at rest.",
        points=(f"the socket of {named}", "a filament bulb of the same type"),
        expect="dark at rest: the LED glowed on the keep-warm resistor's current",
        caution=cautions.before_a_bulb(),
        confirms=(fault,),
    )


_STEPS: dict[FaultClass, Callable[[Layout, Fault], Step]] = {
    FaultClass.DEVICE_DEAD: _dead,
    FaultClass.DEVICE_STUCK: _stuck,
    FaultClass.WRONG_DEVICE: _wrong,
    FaultClass.KEEP_WARM_GLOW: _glow,
}
