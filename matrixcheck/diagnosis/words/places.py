"""Word places of a layout in the trade's terms: "switch column 3", "lamp 24 (left outlane)", "contact X5-3"."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.wires import colour_words
from matrixcheck.layout.wording import MOST_NAMED, either, line_words


def count_of(count: int, one: str, many: str = "") -> str:
    """Word a count with its noun: "1 cell", "3 cells"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def numbers_words(layout: Layout, keys: Sequence[CellKey], last: str = "or", most: int = MOST_NAMED) -> str:
    """Word cells by number alone, after the device of the first: "switch 3, 5 or 9", "switches 3 and 5"."""
    matrix = layout.matrix(keys[0].matrix)
    cells = [matrix.by_key[key] for key in keys]
    several = {"switch": "switches"}.get(cells[0].device, f"{cells[0].device}s")
    device = several if last == "and" and len(cells) > 1 else cells[0].device
    return f"{device} {either([str(cell.number) for cell in cells], last, most)}"


def wire_words(layout: Layout, key: LineKey) -> str:
    """Word the colours of a line's wire in brackets with a blank before, as " (green-brown)"; "" where unknown."""
    wire = layout.line(key).wire
    return f" ({colour_words(wire)})" if wire else ""


def part_words(ref: str) -> str:
    """Word a designator, with the kind of part before it where the letters alone might not say enough."""
    kind = part_class(ref)
    if kind == "integrated circuit":
        return f"chip {ref}" if owner(ref) == ref else f"chip pin {ref}"
    if kind == "connector":
        return f"plug {ref}" if owner(ref) == ref else f"contact {ref}"
    return ref if kind == "transistor" else f"{kind} {ref}"


def unknown_parts(layout: Layout, key: LineKey) -> list[str]:
    """Word what of a line has no designator, from the logic outwards; its first wire never has one."""
    path = layout.line(key).path
    kinds = {part_class(ref) for ref in path}
    driven = layout.matrix(key.matrix).rows_shared and layout.line(key).select is None
    found = [_driver(layout, key)] if driven and not kinds & {"transistor", "integrated circuit"} else []
    if "connector" not in kinds:
        found.append("its plug contact" if found else "the plug contact")
    return [*found, f"the first wire{wire_words(layout, key)}"]


def driver_words(layout: Layout, key: LineKey, part: str | None) -> str:
    """Word what drives, senses or feeds a line, by designator or place: "the driver of switch column 3"."""
    name = part_words(part) if part else "the feed" if layout.line(key).select else _driver(layout, key)
    return f"{name} of {line_words(layout, key)}"


def _driver(layout: Layout, key: LineKey) -> str:
    matrix = layout.matrix(key.matrix)
    sensed = matrix.kind is Kind.SWITCH and (key.side != matrix.strobe or not matrix.rows_shared)
    return "the input" if sensed else "the driver"
