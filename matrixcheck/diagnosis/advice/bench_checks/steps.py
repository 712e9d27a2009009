"""Describe one bench check before it is weighed, and word the ends of a measurement."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Fault
from matrixcheck.diagnosis.words.places import cell_words, either, line_words, lines_words, wire_words
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey

ABOUT_ZERO = "about zero: up to 1 ohm above that of the leads"
STEADY = f"{ABOUT_ZERO}, steady while the wire is moved"
OPEN = "open: OL, or over 10 kilohms"
OPEN_CIRCUIT = f"{OPEN}, or a reading that jumps when the wire is moved"
GROUND = "ground: that of the board, then a bare rail of the frame"


class Step(NamedTuple):
    """Describe a check.

    `effort`: its line in `checks.toml`. `points`: the two ends of the measurement. `good`: what a good part shows.
    `expect`: what is seen if the members in `confirms` are the fault. `power`: whether the power is on.
    """

    effort: str
    do: str
    points: tuple[str, str]
    good: str
    expect: str
    caution: str
    confirms: tuple[Fault, ...]
    power: bool = False


def contact_of(layout: Layout, key: LineKey) -> str | None:
    """Return the plug contact at the board on a line's path, as `X5-3`; None where the layout gives none.

    A plug further out would leave a stretch of the wire unmeasured, and a short on it with the board.
    """
    found = [ref for ref in layout.line(key).path if part_class(ref) == "connector"]
    return found[0] if found else None


def also_carries(layout: Layout, *keys: LineKey) -> str:
    """Word what else runs through the plugs of lines, in a sentence; empty where they carry no other line."""
    plugs = dict.fromkeys(owner(contact) for key in keys if (contact := contact_of(layout, key)))
    said = []
    for plug in plugs:
        others = [line for line in layout.lines_through.get(plug, ()) if line not in keys]
        said += [f" {plug} also carries {lines_words(layout, others)}."] if others else []
    return "".join(said)


def made_quiet(layout: Layout, key: LineKey) -> str:
    """Word what to open or take out so that no device joins a line's wire to others, to follow "and"."""
    matrix = layout.matrix(key.matrix)
    if matrix.kind is Kind.SWITCH:
        return "open every switch of it, also those that rest closed (lift the ball out)"
    if matrix.kind is Kind.LAMP and not matrix.has_diodes:
        return "take all bulbs of it out"
    if matrix.kind is Kind.COIL and not matrix.has_diodes:
        return "take the flash lamps of it out"
    return ""


def is_fed(layout: Layout, key: LineKey) -> bool:
    """Return whether a line takes the supply to lamps or coils; else its driver pulls it to ground."""
    return layout.matrix(key.matrix).kind is not Kind.SWITCH and key.side == "column"


def loose_end(layout: Layout, key: LineKey) -> str:
    """Word the loom's end of a line's wire once its plug is off."""
    contact = contact_of(layout, key)
    where = f"contact {contact} in the loose plug" if contact else "its end at the board"
    return f"the {line_words(layout, key)} wire{wire_words(layout, key)} at {where}"


def unplug(layout: Layout, *keys: LineKey) -> str:
    """Word how to free the wires of lines from their boards."""
    contacts = {key: contact_of(layout, key) for key in keys}
    plugs = list(dict.fromkeys(owner(contact) for contact in contacts.values() if contact))
    said = [f"pull {'plug' if len(plugs) == 1 else 'plugs'} {either(plugs, 'and', most=len(plugs))}"] if plugs else []
    said += [
        f"take the {line_words(layout, key)} wire off its board" for key, contact in contacts.items() if not contact
    ]
    return " and ".join(said)


def first_cell(layout: Layout, key: LineKey) -> str:
    """Word the lug of the first device that the wire reaches, by line position where the chain is unknown."""
    cells = layout.matrix(key.matrix).cells_of(key)
    if layout.line(key).chain is None or not cells:
        return f"the first device that the {line_words(layout, key)} wire reaches"
    return f"the {key.side} lug of {cell_words(layout, cells[0].key)}"


def is_sensed(layout: Layout, key: LineKey) -> bool:
    """Return whether the line is an input of a switch matrix."""
    matrix = layout.matrix(key.matrix)
    return matrix.kind is Kind.SWITCH and (key.side != matrix.strobe or not matrix.rows_shared)


def kind_of(layout: Layout, fault: Fault) -> Kind:
    """Return what sits on a fault's lines or cells: coils where any of them does, for the sake of the cautions."""
    kinds = {layout.matrix(cell.matrix).kind for cell in fault.cells}
    kinds |= {layout.matrix(line.matrix).kind for line in fault.lines}
    return next(kind for kind in (Kind.COIL, Kind.LAMP, Kind.SWITCH) if kind in kinds)


def placed(layout: Layout, ref: str) -> str:
    """Word a designator with the place where the layout says it sits."""
    part = layout.part_by_ref.get(ref)
    return f"{ref} ({part.place})" if part and part.place else ref
