"""Word places of a layout in the trade's terms: "switch column 3", "lamp 24 (left outlane)", "contact X5-3"."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey, LineKey, Side
from matrixcheck.layout.wires import colour_words

MOST_NAMED = 4
"""Things that a list names before it only counts the rest."""


def either(words: Sequence[str], last: str = "or", most: int = MOST_NAMED) -> str:
    """Word a list as it is spoken: "a", "a or b", "a, b or c", and "a, b, c, d or 3 more" where it is long."""
    shown = list(words[:most])
    if len(words) > most:
        shown.append(f"{len(words) - most} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {last} {shown[-1]}"


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


def line_words(layout: Layout, key: LineKey) -> str:
    """Word one line by its label: "switch column 3", "direct input 2", "lighting string 1"."""
    return lines_words(layout, (key,))


def lines_words(layout: Layout, keys: Sequence[LineKey]) -> str:
    """Word lines by label, those of one side of a matrix together: "switch columns 1 and 2, lamp column 1"."""
    sides = [(place, list(found)) for place, found in groupby(keys, key=lambda key: (key.matrix, key.side))]
    return ", ".join(_side_words(layout, layout.matrix(matrix), side, lines) for (matrix, side), lines in sides)


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


def _side_words(layout: Layout, matrix: Matrix, side: Side, keys: Sequence[LineKey]) -> str:
    noun, many = _noun(layout, matrix, side)
    labels = [layout.line(key).label for key in keys]
    if len(labels) == 1:
        return f"{noun} {labels[0]}"
    if len(labels) > 2 and _consecutive(labels):
        return f"{many} {labels[0]} to {labels[-1]}"
    if len(labels) > MOST_NAMED:
        return f"{len(labels)} {many}"
    return f"{many} {either(labels, 'and')}"


def _noun(layout: Layout, matrix: Matrix, side: Side) -> tuple[str, str]:
    """Return the noun of one such line and of several.

    With the matrix's name where another one of its sort would be called the same.
    """
    alike = [each for each in layout.matrices if (each.kind, each.rows_shared) == (matrix.kind, matrix.rows_shared)]
    if len(alike) > 1:
        one = f"{matrix.name or matrix.id} {side}"
    elif matrix.rows_shared:
        one = f"{matrix.kind} {side}"
    elif matrix.kind is Kind.SWITCH:
        one = "direct input" if side == "row" else "direct input column"
    else:
        one = "lighting string" if matrix.kind is Kind.LAMP else "coil string"
    return one, f"{one}s"


def _consecutive(labels: Sequence[str]) -> bool:
    numbers = [int(label) if label.isascii() and label.isdecimal() else None for label in labels]
    return None not in numbers and numbers == list(range(int(labels[0]), int(labels[0]) + len(labels)))
