"""Faults, places and repairs in words for the owner: what it means for the machine, by name instead of designator."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from matrixcheck.diagnosis.result import Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.wording import either, line_words, lines_words

NAMED = 3
"""Devices that a sentence names before it counts the rest."""
KINDS = {"integrated circuit": "chip", "connector": "plug"}
MANY = {"switch": "switches"}
SILENT = {"switch": "give no signal", "lamp": "stay dark", "flash lamp": "stay dark", "coil": "do not work"}
SILENT_ONE = {"switch": "gives no signal", "lamp": "stays dark", "flash lamp": "stays dark", "coil": "does not work"}
ALWAYS = {"switch": "always reads as closed", "lamp": "is always lit", "flash lamp": "is always lit"}


def place_named(place: str, layout: Layout) -> str:
    """Return a part, line or cell by its name, with its kind before it; by designator only where it has no name."""
    cell, line = parse_cell(place, ""), parse_line(place, "")
    if cell and cell.matrix in layout.matrix_ids:
        fitted = layout.matrix(cell.matrix).by_key.get(cell)
        return device_named(fitted) if fitted else place
    if line and line.matrix in layout.matrix_ids and line in layout.matrix(line.matrix).lines:
        return f"the wire of {line_words(layout, line)}"
    part = layout.part_by_ref.get(place) or layout.part_by_ref.get(owner(place))
    try:
        kind = part_class(place)
    except ValueError:
        return place
    kind = "plug contact" if kind == "connector" and owner(place) != place else KINDS.get(kind, kind)
    return f"the {kind} “{part.name}”" if part and part.name else f"the {kind} {place}"


def device_named(cell: Cell) -> str:
    """Return a device by its name: "the lamp “pan 4 white”"."""
    return f"the {cell.device} “{cell.name}”"


def fault_sentence(suspect: Suspect, layout: Layout, dead: frozenset[CellKey]) -> str:
    """Return what a suspect means for the owner, in a sentence or two; `dead` are the cells that don't work."""
    fault = suspect.members[0]
    lost = sorted(dead & {key for each in suspect.members for key in each.cells})
    return capital(_SENTENCES[fault.fault](layout, fault, lost))


def devices_counted(keys: Iterable[CellKey], layout: Layout, saying: Mapping[str, str]) -> str:
    """Return devices by kind with their count, what `saying` has of the kind, and a few names."""
    kinds: dict[str, list[Cell]] = {}
    for key in keys:
        cell = layout.cell(key)
        kinds.setdefault(cell.device, []).append(cell)
    return ", and ".join(
        f"{count_of(len(cells), kind, MANY.get(kind, ''))} {saying[kind]} ({names_of(cells)})"
        for kind, cells in kinds.items()
    )


def names_of(cells: Sequence[Cell], most: int = NAMED) -> str:
    """Return the names of a few devices, the rest counted."""
    return either([cell.name for cell in cells], "and", most if len(cells) > most + 1 else most + 1)


def capital(text: str) -> str:
    """Return the text with a capital first."""
    return text[:1].upper() + text[1:]


def _harm(layout: Layout, lost: Sequence[CellKey]) -> str:
    """Return what does not work because of a fault."""
    return f": {devices_counted(lost, layout, SILENT_ONE if len(lost) == 1 else SILENT)}" if lost else ""


def _silencing(words: Callable[[Layout, Fault], str]) -> _Sentence:
    return lambda layout, fault, lost: f"{words(layout, fault)}{_harm(layout, lost)}."


def _open(layout: Layout, fault: Fault) -> str:
    if fault.part and owner(fault.part) == fault.part and len(fault.lines) > 1:
        return f"{place_named(fault.part, layout)} has failed"
    return f"the wiring or the driver of {lines_words(layout, fault.lines)} is interrupted"


def _stuck_on(layout: Layout, fault: Fault, _lost: Sequence[CellKey]) -> str:
    cells = [layout.cell(key) for key in fault.cells]
    cause = f"the driver of {line_words(layout, fault.lines[0])} stays on"
    if not cells:
        return f"{cause}."
    one = len(cells) == 1
    doing = (
        ("reads as closed" if one else "read as closed")
        if cells[0].device == "switch"
        else "comes on"
        if one
        else "come on"
    )
    count = count_of(len(cells), cells[0].device, MANY.get(cells[0].device, ""))
    return f"{cause}: {count} {doing} unasked ({names_of(cells)})."


def _grounded(layout: Layout, fault: Fault) -> str:
    return f"a wire of {line_words(layout, fault.lines[0])} touches metal"


def _relay(layout: Layout, fault: Fault, lost: Sequence[CellKey]) -> str:
    others = " Other devices come on in their place." if layout.line(fault.lines[0]).select == fault.part else ""
    return f"{place_named(str(fault.part), layout)} sticks{_harm(layout, lost)}.{others}"


def _fuse(layout: Layout, fault: Fault, lost: Sequence[CellKey]) -> str:
    blown = f"{place_named(str(fault.part), layout)} has blown{_harm(layout, lost)}."
    return f"{blown} The reason must be found before a new one is fitted."


def _dead_cell(layout: Layout, fault: Fault, _lost: Sequence[CellKey]) -> str:
    cell = layout.cell(fault.cells[0])
    return f"{device_named(cell)} {SILENT_ONE[cell.device]}."


def _stuck_cell(layout: Layout, fault: Fault, _lost: Sequence[CellKey]) -> str:
    cell = layout.cell(fault.cells[0])
    return f"{device_named(cell)} {ALWAYS.get(cell.device, 'is always on, which is dangerous')}."


def _shorted_diode(layout: Layout, fault: Fault, _lost: Sequence[CellKey]) -> str:
    cell = layout.cell(fault.cells[0])
    what = "other switches seem to close" if cell.device == "switch" else "others come on with it"
    return f"a small part (a diode) of {device_named(cell)} has failed: at times {what}."


def _wrong_device(layout: Layout, fault: Fault, _lost: Sequence[CellKey]) -> str:
    return f"{device_named(layout.cell(fault.cells[0]))} is damaged or of another type: its resistance is wrong."


def _glow(layout: Layout, fault: Fault, _lost: Sequence[CellKey]) -> str:
    one = layout.cell(fault.cells[0]).device
    verb = "glows faintly by itself" if len(fault.cells) == 1 else "glow faintly by themselves"
    lamps = count_of(len(fault.cells), f"{one} with an LED", f"{one}s with LEDs")
    return f"{lamps} {verb}. That is normal and no fault."


def _pair(words: str) -> _Sentence:
    return lambda layout, fault, _lost: f"{words}: {lines_words(layout, fault.lines)} are mixed up."


_Sentence = Callable[[Layout, Fault, Sequence[CellKey]], str]

_SENTENCES: Mapping[FaultClass, _Sentence] = {
    FaultClass.OPEN: _silencing(_open),
    FaultClass.UNPLUGGED: _silencing(lambda layout, fault: f"{place_named(str(fault.part), layout)} is off or loose"),
    FaultClass.BREAK: _silencing(lambda layout, fault: f"a wire of {line_words(layout, fault.lines[0])} is broken"),
    FaultClass.GROUNDED: _silencing(_grounded),
    FaultClass.PLUG_SHIFTED: _silencing(
        lambda layout, fault: f"{place_named(str(fault.part), layout)} sits one pin to the side"
    ),
    FaultClass.STUCK_ON: _stuck_on,
    FaultClass.SHORTED_TOGETHER: _pair("two wires touch each other"),
    FaultClass.CROSSED: _pair("two wires are swapped"),
    FaultClass.PLUGS_SWAPPED: _pair("two plugs are in each other's place"),
    FaultClass.DEVICE_DEAD: _dead_cell,
    FaultClass.DIODE_OPEN: _dead_cell,
    FaultClass.DIODE_REVERSED: _dead_cell,
    FaultClass.DEVICE_STUCK: _stuck_cell,
    FaultClass.DIODE_SHORTED: _shorted_diode,
    FaultClass.RELAY_STUCK: _relay,
    FaultClass.FUSE_BLOWN: _fuse,
    FaultClass.WRONG_DEVICE: _wrong_device,
    FaultClass.KEEP_WARM_GLOW: _glow,
}
