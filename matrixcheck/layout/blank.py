"""A layout from nothing: from the size of each matrix and one number of its test, with names to be filled in."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout.charts.writing import grid_lines, value_text
from matrixcheck.layout.designators import is_ref
from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.numbering import SCHEMES, Numbering, number_of
from matrixcheck.layout.problems import nearest, shown
from matrixcheck.layout.schema import NAME

SHAPES = {"switch": "switches", "lamp": "lamps", "coil": "coils", "inputs": "inputs", "lighting": "lighting"}
"""What can be asked for, with the id that it gets. Inputs and lighting strings have no rows in common."""
WORDING = "KIND COLUMNSxROWS NUMBER, as in 'switch 8x8 21', 'coil 2x16 17 K1', 'inputs 6' or 'lighting 3x5'"
_SIZE = re.compile(r"(?:(?P<columns>[0-9]{1,3})[x\u00d7])?(?P<rows>[0-9]{1,3})", re.IGNORECASE)


class Plan(NamedTuple):
    """One matrix that is to be: its shape, size, numbering, and the relay that changes the columns of a coil bank."""

    shape: str
    columns: int
    rows: int
    numbering: Numbering
    relay: str = ""


def plan_of(text: str) -> Plan:
    """Return the matrix that a text asks for. Raises UsageError for one that can't be understood."""
    words = text.split()
    if not words or words[0].casefold() not in SHAPES:
        meant = nearest(words[0], SHAPES) if words else None
        hint = f"did you mean '{meant}'?" if meant else f"write {WORDING}"
        raise UsageError(f"no kind of matrix: {shown(words[0] if words else text)}", hint)
    size = _SIZE.fullmatch(words[1]) if len(words) > 1 else None
    if size is None:
        raise UsageError(f"{shown(text)} has no size", f"write {WORDING}")
    shape, columns, rows = words[0].casefold(), int(size["columns"] or 1), int(size["rows"])
    for count in (columns, rows):
        if not 0 < count <= LARGEST_SIDE:
            raise UsageError(f"{shown(text)}: {count} rows or columns", f"a matrix has 1 to {LARGEST_SIDE} of each")
    relays = [word.upper() for word in words[2:] if is_ref(word.upper()) and word.upper().startswith("K")]
    others = [word for word in words[2:] if word.upper() not in relays]
    if len(others) > 1 or len(relays) > 1 or (relays and (shape, columns) != ("coil", 2)):
        raise UsageError(f"can't read {shown(text)}", f"write {WORDING}; a relay changes two columns of coils")
    usual: Numbering = "column-then-row" if shape == "lighting" else "down-columns"
    numbering = scheme_of(others[0], columns, rows) if others else usual
    return Plan(shape, columns, rows, numbering, relays[0] if relays else "")


def example_place(columns: int, rows: int) -> tuple[int, int]:
    """Return column and row of the device whose number tells most of a numbering."""
    return (2, 1) if columns > 1 else (1, min(2, rows))


def scheme_of(answer: str, columns: int, rows: int) -> Numbering:
    """Return the numbering that a name, or the number at the example's place, says.

    Raises UsageError where it says none, or several that differ elsewhere.
    """
    if answer in SCHEMES:
        return next(scheme for scheme in SCHEMES if scheme == answer)
    column, row = example_place(columns, rows)
    fits = [scheme for scheme in SCHEMES if str(number_of(scheme, row, column, rows, columns)) == answer]
    grids = {scheme: _grid(scheme, columns, rows) for scheme in fits}
    if len({tuple(map(tuple, grid)) for grid in grids.values()}) == 1:
        return fits[0]
    known = ", ".join(f"{number_of(one, row, column, rows, columns)} is {one}" for one in SCHEMES)
    said = "fits " + " and ".join(fits) if fits else "fits no numbering that is known"
    raise UsageError(
        f"{shown(answer)} at column {column}, row {row} {said}",
        f"{known}: name one; for any other write numbers by hand (numbering = 'listed')",
    )


def blank_layout(name: str, plans: Sequence[Plan]) -> str:
    """Return the TOML of a layout with a name for each device by its number."""
    return "\n".join(_lines(name, plans)) + "\n"


def _lines(name: str, plans: Sequence[Plan]) -> Iterator[str]:
    yield f"#:schema ./{NAME}"
    yield '# Names go into cells, "" where nothing is fitted. The rest can wait: take a # away, put in what you know.'
    yield "format = 1"
    yield f"name = {value_text(name)}"
    seen: dict[str, int] = {}
    for plan in plans:
        seen[plan.shape] = seen.get(plan.shape, 0) + 1
        yield ""
        yield from _matrix_lines(plan, SHAPES[plan.shape] + (str(seen[plan.shape]) if seen[plan.shape] > 1 else ""))


def _matrix_lines(plan: Plan, name: str) -> Iterator[str]:
    kind = {"inputs": "switch", "lighting": "lamp"}.get(plan.shape, plan.shape)
    numbers = _grid(plan.numbering, plan.columns, plan.rows)
    yield "[[matrix]]"
    yield f"id = {value_text(name)}"
    yield f"kind = {value_text(kind)}"
    yield f"numbering = {value_text(plan.numbering)}"
    if plan.shape in ("inputs", "lighting"):
        yield "rows_shared = false"
    yield "# volts = 12"
    yield '# supply = ["F1"]          # what all of it needs'
    yield from grid_lines("cells", [[f"{kind} {number}" for number in row] for row in numbers])
    yield from _column_lines(plan)
    if plan.shape != "lighting":
        yield ""
        yield "  # [matrix.row]"
        yield f"  # path = [{value_text(_example('U2', plan.rows))}, {value_text(_example('X2', plan.rows))}]"
    first = numbers[0][0]
    yield ""
    yield "  # [matrix.cell]"
    yield f'  # {first} = {{zone = "lower left"{_note(kind)}}}'


def _column_lines(plan: Plan) -> Iterator[str]:
    yield ""
    if plan.relay:
        yield "  [matrix.column]            # one entry a column; chain: the order in which the wire visits the cells"
        yield '  label = ["A", "B"]'
        yield f"  select = {value_text(plan.relay)}"
        yield '  when = ["rest", "pulled"]'
        yield '  # supply = ["F2...3"]'
        return
    yield "  # [matrix.column]          # one entry a column; '' and '-' where unknown"
    wires = ["GN/BN", "GN/RD", "GN/OG", "GN/YE"]
    listed = [wires[place] if place < len(wires) else "" for place in range(plan.columns)]
    yield f"  # wire = {value_text(listed)}"
    if plan.shape == "lighting":
        yield f"  # supply = [{value_text(_example('F', plan.columns, ''))}]"
    else:
        steps = [_example("U1", plan.columns), _example("Q", plan.columns, ""), _example("X1", plan.columns)]
        yield f"  # path = {value_text(steps)}"


def _example(part: str, count: int, mark: str = "-") -> str:
    return f"{part}{mark}1...{count}" if count > 1 else f"{part}{mark}1"


def _note(kind: str) -> str:
    return {
        "switch": ', reach = "ball", rest = "closed"',
        "lamp": ', fitted = "led"',
        "coil": ", ohms = 4.2",
    }[kind]


def _grid(scheme: Numbering, columns: int, rows: int) -> list[list[int]]:
    return [
        [number_of(scheme, row, column, rows, columns) for column in range(1, columns + 1)]
        for row in range(1, rows + 1)
    ]
