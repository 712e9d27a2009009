"""Word the faults of one ambiguity group as clauses, like ones in one: "Q3 or contact X5-3 ... is open"."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matrixcheck.diagnosis.forward.coil_resistance import deviation_words, measured
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, MISPLACED_PLUGS
from matrixcheck.diagnosis.machine.keep_warm import current_words
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.diagnosis.words.places import (
    count_of,
    driver_words,
    numbers_words,
    part_words,
    unknown_parts,
    wire_words,
)
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.layout.wording import cell_words, either, line_words, lines_words

_Clause = Callable[[Layout, Sequence[Fault]], str]


def clauses(layout: Layout, members: Sequence[Fault], readings: Sequence[Reading] = ()) -> list[str]:
    """Return one clause for each sort of fault among the members, in their order."""
    sorts: dict[tuple[object, ...], list[Fault]] = {}
    for fault in members:
        sorts.setdefault(_sort(fault), []).append(fault)
    return [_clause(layout, alike, readings, alone=len(sorts) == 1) for alike in sorts.values()]


def brief_words(layout: Layout, fault: Fault) -> str:
    """Word one fault briefly, for a list of what an answer would mean."""
    if fault.fault is FaultClass.BREAK:
        line = fault.lines[0]
        order = layout.matrix(line.matrix).cells_of(line)
        known = layout.line(line).chain is not None
        after = f" after {order[len(order) - len(fault.cells) - 1].number}" if known else ""
        return f"a break in {line_words(layout, line)}{after}"
    if fault.fault in MISPLACED_PLUGS:
        return f"plugs {fault.part} and {fault.other} swapped" if fault.other else f"plug {fault.part} one pin off"
    if fault.part is not None:
        return f"a stuck {part_words(fault.part)}" if fault.fault is FaultClass.STUCK_ON else part_words(fault.part)
    if fault.lines:
        return f"{_BRIEF[fault.fault]}{lines_words(layout, fault.lines)}"
    if fault.fault is FaultClass.KEEP_WARM_GLOW:
        return "keep-warm glow"
    device = numbers_words(layout, fault.cells[:1])
    return f"{_BRIEF[fault.fault]}{device}" if fault.fault in _BRIEF else f"{device} itself"


_BRIEF = {
    FaultClass.OPEN: "the start of ",
    FaultClass.STUCK_ON: "a stuck driver of ",
    FaultClass.GROUNDED: "a grounded wire of ",
    FaultClass.SHORTED_TOGETHER: "a short between ",
    FaultClass.CROSSED: "crossed ",
    FaultClass.DIODE_SHORTED: "a shorted diode of ",
    FaultClass.DIODE_REVERSED: "a reversed diode of ",
}


def _sort(fault: Fault) -> tuple[object, ...]:
    """Return a key: faults with the same one share a clause."""
    match fault.fault:
        case FaultClass.OPEN if _is_chip(fault):
            return "failed", fault.part
        case FaultClass.OPEN | FaultClass.BREAK:
            return fault.fault, fault.lines
        case FaultClass.UNPLUGGED | FaultClass.PLUG_SHIFTED:
            return FaultClass.UNPLUGGED, fault.part
        case FaultClass.STUCK_ON | FaultClass.GROUNDED:
            return fault.fault, fault.lines
        case each if each in DEAD_CELL:
            return "dead cell", fault.cells
    return fault.fault, fault.part, fault.lines, fault.cells, fault.when


def _is_chip(fault: Fault) -> bool:
    """Return whether a whole part of several lines is open: a chip, more often than not."""
    return fault.part is not None and owner(fault.part) == fault.part and len(fault.lines) > 1


def _clause(layout: Layout, alike: Sequence[Fault], readings: Sequence[Reading], alone: bool) -> str:
    fault = alike[0]
    if fault.fault in DEAD_CELL:
        return _dead_cell(layout, alike) if alone else f"{cell_words(layout, fault.cells[0])} itself has failed"
    if fault.fault is FaultClass.WRONG_DEVICE:
        return _wrong_device(layout, fault.cells[0], readings)
    if fault.fault is FaultClass.BREAK:
        return _break(layout, alike)
    said = _SAID[fault.fault](layout, alike)
    return f"{said}: no fault of a driver" if alone and fault.fault is FaultClass.KEEP_WARM_GLOW else said


def _open(layout: Layout, alike: Sequence[Fault]) -> str:
    lines = alike[0].lines
    if _is_chip(alike[0]):
        return f"{part_words(str(alike[0].part))} ({lines_words(layout, lines)}) has failed"
    subjects: list[str] = []
    for fault in alike:
        subjects += [part_words(fault.part)] if fault.part else unknown_parts(layout, lines[0])
    return f"{either(subjects)} of {lines_words(layout, lines)} is open"


def _plug(layout: Layout, alike: Sequence[Fault]) -> str:
    """Word a plug that is off, or one pin off, or may be either."""
    steps = [fault.after for fault in alike if fault.fault is FaultClass.PLUG_SHIFTED]
    how = [] if len(steps) == len(alike) else ["is unplugged"]
    if steps:
        how.append("sits one pin off" if len(steps) > 1 else f"sits one pin too {'high' if steps[0] == 1 else 'low'}")
    return f"{part_words(str(alike[0].part))} ({lines_words(layout, alike[0].lines)}) {either(how)}"


def _fuse(layout: Layout, alike: Sequence[Fault]) -> str:
    return f"{part_words(str(alike[0].part))} ({lines_words(layout, alike[0].lines)}) has blown"


def _relay(layout: Layout, alike: Sequence[Fault]) -> str:
    fault = alike[0]
    if layout.line(fault.lines[0]).select != fault.part:
        how = "doesn't pull in" if fault.when == "rest" else "doesn't let go"
        return f"{part_words(str(fault.part))} ({lines_words(layout, fault.lines)}) {how}"
    kept = [key for key in fault.lines if layout.line(key).when == fault.when]
    others = [key for key in fault.lines if layout.line(key).when != fault.when]
    named = f"{part_words(str(fault.part))} is stuck {'at rest' if fault.when == 'rest' else 'pulled in'}"
    if not kept or not others:
        return named
    return f"{named}, so that commands for {lines_words(layout, others)} fire {lines_words(layout, kept)}"


def _stuck_on(layout: Layout, alike: Sequence[Fault]) -> str:
    line = alike[0].lines[0]
    relay = layout.line(line).select
    how = f"is live whatever {relay} selects" if relay else "is stuck on"
    return f"{driver_words(layout, line, alike[0].part)} {how}"


def _grounded(layout: Layout, alike: Sequence[Fault]) -> str:
    line = alike[0].lines[0]
    return f"the wire{wire_words(layout, line)} of {line_words(layout, line)} is grounded"


def _shorted(layout: Layout, alike: Sequence[Fault]) -> str:
    return f"{lines_words(layout, alike[0].lines)}{_two_wires(layout, alike[0])} are shorted together"


def _crossed(layout: Layout, alike: Sequence[Fault]) -> str:
    return f"{lines_words(layout, alike[0].lines)}{_two_wires(layout, alike[0])} are crossed"


def _two_wires(layout: Layout, fault: Fault) -> str:
    colours = [wire_words(layout, line).strip(" ()") for line in fault.lines]
    return f" ({' and '.join(colours)})" if all(colours) else ""


def _swapped(layout: Layout, alike: Sequence[Fault]) -> str:
    fault = alike[0]
    return f"plugs {fault.part} and {fault.other} ({lines_words(layout, fault.lines)}) are in each other's place"


def _break(layout: Layout, alike: Sequence[Fault]) -> str:
    line = alike[0].lines[0]
    matrix = layout.matrix(line.matrix)
    named = f"{line_words(layout, line)}{wire_words(layout, line)} is broken"
    if layout.line(line).chain is None:
        beyond = sorted(set.intersection(*(set(fault.cells) for fault in alike)))
        if not beyond:
            return f"{named} somewhere; the order of its cells is not known"
        least = "at least " if len(alike) > 1 else ""
        return f"{named}, with {least}{numbers_words(layout, beyond, 'and')} beyond the break; its chain is not known"
    order = [cell.key for cell in matrix.cells_of(line)]
    counts = [len(order) - len(fault.cells) for fault in alike]
    return f"{named} after {cell_words(layout, order[min(counts) - 1])}, before {_short(layout, order[max(counts)])}"


def _short(layout: Layout, key: CellKey) -> str:
    cell = layout.cell(key)
    return f"{cell.number} ({cell.name})"


def _dead_cell(layout: Layout, alike: Sequence[Fault]) -> str:
    cell = layout.cell(alike[0].cells[0])
    classes = {fault.fault for fault in alike}
    causes = list(_DEVICE[cell.device]) if FaultClass.DEVICE_DEAD in classes else []
    if cell.notes.fitted == "led" and causes:
        causes[0] = "the LED or its polarity"
    if classes - {FaultClass.DEVICE_DEAD}:
        causes.append(_diode(classes))
    if FaultClass.DEVICE_DEAD in classes:
        causes.append("its own wire")
    return f"{cell_words(layout, cell.key)}: {either(causes)}"


_DEVICE = {
    "switch": ("its contacts",),
    "lamp": ("the bulb", "its socket"),
    "flash lamp": ("the bulb", "its socket"),
    "coil": ("its winding",),
}


def _diode(classes: set[FaultClass]) -> str:
    if FaultClass.DEVICE_DEAD in classes:
        return "its diode"
    ways = {FaultClass.DIODE_OPEN: "open", FaultClass.DIODE_REVERSED: "the wrong way round"}
    return f"its diode is {either([way for each, way in ways.items() if each in classes])}"


def _stuck_cell(layout: Layout, alike: Sequence[Fault]) -> str:
    cell = layout.cell(alike[0].cells[0])
    return f"{cell_words(layout, cell.key)}: {_stuck_how(cell)}"


def _stuck_how(cell: Cell) -> str:
    if cell.device == "switch":
        return "its contacts are stuck closed, or its own wires touch"
    return f"its own wire is grounded, or the {'coil' if cell.device == 'coil' else 'socket'} touches another wire"


def _shorted_diode(layout: Layout, alike: Sequence[Fault]) -> str:
    return f"{cell_words(layout, alike[0].cells[0])}: its diode is shorted"


def _glow(layout: Layout, alike: Sequence[Fault]) -> str:
    cells = alike[0].cells
    matrix = layout.matrix(cells[0].matrix)
    whose = f"the {count_of(len(cells), 'LED')} on keep-warm resistors ({numbers_words(layout, cells, 'and')})"
    whose = whose if len(cells) > 1 else f"the LED of {cell_words(layout, cells[0])}, on a keep-warm resistor,"
    return f"{whose} {'glow' if len(cells) > 1 else 'glows'} on {current_words(matrix)}"


def _wrong_device(layout: Layout, key: CellKey, readings: Sequence[Reading]) -> str:
    ohms = measured(readings).get(key)
    if ohms is None:
        return f"{cell_words(layout, key)} has a resistance outside its tolerance"
    return f"{cell_words(layout, key)}: {deviation_words(layout.cell(key), ohms)}"


_SAID: dict[FaultClass, _Clause] = {
    FaultClass.OPEN: _open,
    FaultClass.UNPLUGGED: _plug,
    FaultClass.FUSE_BLOWN: _fuse,
    FaultClass.RELAY_STUCK: _relay,
    FaultClass.STUCK_ON: _stuck_on,
    FaultClass.GROUNDED: _grounded,
    FaultClass.SHORTED_TOGETHER: _shorted,
    FaultClass.CROSSED: _crossed,
    FaultClass.PLUGS_SWAPPED: _swapped,
    FaultClass.PLUG_SHIFTED: _plug,
    FaultClass.DEVICE_STUCK: _stuck_cell,
    FaultClass.DIODE_SHORTED: _shorted_diode,
    FaultClass.KEEP_WARM_GLOW: _glow,
}
