"""The shape of one bench check before it is weighed, and how the ends of a measurement are named."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.names import cell_words, line_words, wire_words
from matrixcheck.diagnosis.result import Fault
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey

OPEN_CIRCUIT = "no continuity: more than 1 ohm, or a reading that jumps when the wire is moved"
CONTINUITY = "less than 10 ohms"
GROUND = "ground: that of the board, then a bare rail of the frame"


class Step(NamedTuple):
    """A check: its line in `checks.toml`, what to do, its two ends, what to expect if the members in `confirms` are the
    fault, what can hurt, and whether the power is on."""

    effort: str
    do: str
    points: tuple[str, str]
    expect: str
    caution: str
    confirms: tuple[Fault, ...]
    power: bool = False


def contact_of(layout: Layout, key: LineKey) -> str | None:
    """The plug contact nearest the loom on a line's path, as `X5-3`; None where the layout gives none."""
    found = [ref for ref in layout.line(key).path if part_class(ref) == "connector"]
    return found[-1] if found else None


def loose_end(layout: Layout, key: LineKey) -> str:
    """The loom's end of a line's wire once its plug is off."""
    contact = contact_of(layout, key)
    where = f"contact {contact} in the loose plug" if contact else "its end at the board"
    return f"the {line_words(layout, key)} wire{wire_words(layout, key)} at {where}"


def unplug(layout: Layout, *keys: LineKey) -> str:
    """The words for parting the wires of lines from their boards."""
    contacts = {key: contact_of(layout, key) for key in keys}
    plugs = list(dict.fromkeys(owner(contact) for contact in contacts.values() if contact))
    said = [f"pull {'plug' if len(plugs) == 1 else 'plugs'} {' and '.join(plugs)}"] if plugs else []
    said += [
        f"take the {line_words(layout, key)} wire off its board" for key, contact in contacts.items() if not contact
    ]
    return " and ".join(said)


def first_cell(layout: Layout, key: LineKey) -> str:
    """The lug of the first device that the wire reaches, by its place on the line where the chain is unknown."""
    cells = layout.matrix(key.matrix).cells_of(key)
    if layout.line(key).chain is None or not cells:
        return f"the first device that the {line_words(layout, key)} wire reaches"
    return f"the {key.side} lug of {cell_words(layout, cells[0].key)}"


def is_sensed(layout: Layout, key: LineKey) -> bool:
    """Whether the line is an input of a switch matrix."""
    matrix = layout.matrix(key.matrix)
    return matrix.kind is Kind.SWITCH and (key.side != matrix.strobe or not matrix.rows_shared)


def kind_of(layout: Layout, fault: Fault) -> Kind:
    """What sits on a fault's lines or cells: coils where any of them does, for the sake of the cautions."""
    kinds = {layout.matrix(cell.matrix).kind for cell in fault.cells}
    kinds |= {layout.matrix(line.matrix).kind for line in fault.lines}
    return next(kind for kind in (Kind.COIL, Kind.LAMP, Kind.SWITCH) if kind in kinds)
