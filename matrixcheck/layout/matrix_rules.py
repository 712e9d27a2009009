"""What must hold within one matrix of a layout: its grid and numbers, its lines and its cells."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import Any

from matrixcheck.layout.designators import is_ref, part_class
from matrixcheck.layout.limits import LARGEST_NUMBER, LARGEST_SIDE
from matrixcheck.layout.numbering import SCHEMES, Number, Numbering, parse_number
from matrixcheck.layout.problems import Flaw, Loc, is_seen, shown
from matrixcheck.layout.raw import Grid, Table, numbers, tables, texts

SUPPLIES = frozenset({"fuse", "relay", "connector", "switch", "diode", "inductor", "resistor", "integrated circuit"})
LAMPS = frozenset({"lamp", "flash lamp"})
DEVICES = {
    "switch": frozenset({"switch"}),
    "lamp": LAMPS,
    "coil": frozenset({"coil", "lamp", "flash lamp"}),
}
FEW_MISFITS = 3
"""So many numbers that don't fit are rather a wrong numbering."""
WIRING = ("path", "wire", "chain", "supply")


def matrix_flaws(loc: Loc, matrix: Table) -> Iterator[Flaw]:
    """Yield each rule that the table of one matrix breaks; `loc` is its place in the layout's data."""
    yield from _grid_flaws((*loc, "cells"), matrix.get("cells"))
    yield from _number_flaws(loc, matrix)
    grid = Grid.of(matrix)
    if grid:
        yield from _size_flaws(loc, matrix, grid)
        misfits = list(_order_flaws(loc, matrix, grid))
        fitting = _fitting_scheme(loc, matrix, len(misfits))
        if fitting:
            scheme, grid = fitting
            has = f"is {shown(matrix['numbering'])}" if "numbering" in matrix else "is left out, so 'down-columns'"
            yield Flaw(
                (*loc, "numbering"),
                f"{has}, which {len(misfits)} numbers of chains and of the walk don't fit: all fit {shown(scheme)}",
                scheme,
            )
        else:
            yield from misfits
    yield from _supply_flaws((*loc, "supply"), matrix)
    for side in ("column", "row"):
        lines = dict(tables(matrix.get(side)))
        for place, line in lines.items():
            yield from _line_flaws((*loc, side, place), line, side)
        yield from _contact_flaws((*loc, side), lines)
    yield from _cell_flaws((*loc, "cell"), matrix, grid)


def _grid_flaws(loc: Loc, cells: Any) -> Iterator[Flaw]:
    if not isinstance(cells, list):
        return
    rows = [(place, row) for place, row in enumerate(cells) if isinstance(row, list)]
    width = len(rows[0][1]) if rows else 0
    if not cells or (rows and not width):
        yield Flaw(loc, "is empty: give one list a row, one name a column")
        return
    if max(len(cells), width) > LARGEST_SIDE:
        yield Flaw(loc, f"is {len(cells)} by {width}: a matrix has at most {LARGEST_SIDE} rows and columns")
        return
    for place, row in rows:
        if len(row) != width:
            yield Flaw((*loc, place), f'has {_count(len(row), "entry")} where row 1 has {width}: put "" for a gap')
        for column, name in texts(row):
            if name and name.isprintable() and not any(map(is_seen, name)):
                yield Flaw((*loc, place, column), 'is a name of blanks: put "" where nothing is fitted')
    if rows and all(name == "" for _, row in rows for name in row):
        yield Flaw(loc, "holds no name: nothing is fitted")


def _number_flaws(loc: Loc, matrix: Table) -> Iterator[Flaw]:
    listed, given, cells = matrix.get("numbering") == "listed", matrix.get("numbers"), matrix.get("cells")
    if not listed:
        if "numbers" in matrix:
            yield Flaw((*loc, "numbers"), "is of use only with numbering = 'listed'")
        return
    if given is None:
        yield Flaw((*loc, "numbers"), "is missing: a listed matrix gives one number a cell, 0 where nothing is fitted")
    elif isinstance(given, list) and isinstance(cells, list):
        yield from _listed_flaws((*loc, "numbers"), given, cells)


def _listed_flaws(loc: Loc, listed: list[Any], cells: list[Any]) -> Iterator[Flaw]:
    if len(listed) != len(cells):
        yield Flaw(loc, f"has {_count(len(listed), 'row')} where cells has {len(cells)}")
    seen: dict[Number, tuple[int, int]] = {}
    for row, (given, names) in enumerate(zip(listed, cells, strict=False)):
        if not isinstance(given, list) or not isinstance(names, list):
            continue
        if len(given) != len(names):
            yield Flaw((*loc, row), f"has {_count(len(given), 'entry')} where its row of cells has {len(names)}")
        for column, number in numbers(given):
            place = (*loc, row, column)
            name = names[column] if column < len(names) else ""
            if number in (0, ""):
                if name:
                    unused = "0" if number == 0 else "empty"
                    yield Flaw(place, f"is {unused}, but {shown(name)} is fitted there: give its number")
            elif isinstance(number, int) and not 0 < number <= LARGEST_NUMBER:
                yield Flaw(place, f"is {shown(number)}: a cell's number lies between 1 and {LARGEST_NUMBER}")
            elif seen.setdefault(number, (row, column)) != (row, column):
                yield Flaw(place, f"is {number} again: {_address(seen[number])} has that number already")


def _size_flaws(loc: Loc, matrix: Table, grid: Grid) -> Iterator[Flaw]:
    for side, count in (("column", grid.columns), ("row", grid.rows)):
        for place, _ in tables(matrix.get(side)):
            if place >= count:
                yield Flaw((*loc, side, place), f"is one too many: the grid has {_count(count, side)}")
    if matrix.get("rows_shared") is False and grid.columns > 1:
        for place, row in tables(matrix.get("row")):
            for key in WIRING:
                if key in row:
                    yield Flaw((*loc, "row", place, key), "says how a row is wired, but rows_shared is false")


def _order_flaws(loc: Loc, matrix: Table, grid: Grid) -> Iterator[Flaw]:
    yield from _visit_flaws((*loc, "walk"), matrix.get("walk"), grid)
    yield from _chain_flaws(loc, matrix, grid)


def _fitting_scheme(loc: Loc, matrix: Table, misfits: int) -> tuple[Numbering, Grid] | None:
    """Return the numbering, and its grid, that chains and walk all fit, where the given one leaves several misfits."""
    if misfits < FEW_MISFITS or matrix.get("numbering", "down-columns") == "listed":
        return None
    for scheme in SCHEMES:
        other: Table = matrix | {"numbering": scheme}
        grid = Grid.of(other)
        if grid and not any(_order_flaws(loc, other, grid)):
            return scheme, grid
    return None


def _chain_flaws(loc: Loc, matrix: Table, grid: Grid) -> Iterator[Flaw]:
    for side in ("column", "row"):
        for place, line in tables(matrix.get(side)):
            order = line.get("chain")
            if not isinstance(order, list):
                continue
            here, own = (*loc, side, place, "chain"), grid.numbers_on(side, place)
            yield from _visit_flaws(here, order, grid, own, f"{side} {place + 1}")
            named = [number for _, number in numbers(order)]
            left_out = [number for number in own if number not in named]
            if left_out:
                yield Flaw(here, f"leaves out {_listing(left_out)}: name every fitted cell of the line, or none")


def _visit_flaws(
    loc: Loc, order: Any, grid: Grid, own: tuple[Number, ...] | None = None, line: str = ""
) -> Iterator[Flaw]:
    """Yield what is wrong with a list of cell numbers that may only name fitted cells.

    Where `own` is given, they may only name those of one line.
    """
    seen: set[Number] = set()
    for place, number in numbers(order):
        if number == "":
            continue
        here = (*loc, place)
        if number not in grid.place_of:
            yield Flaw(here, f"names {shown(number)}, a number that this grid doesn't have")
        elif number not in grid.fitted:
            yield Flaw(here, f"names {number}, but nothing is fitted at {_address(grid.place_of[number])}")
        elif own is not None and number not in own:
            yield Flaw(here, f"names {number}, which is {_address(grid.fitted[number])} and not on {line}")
        elif number in seen:
            yield Flaw(here, f"names {number} twice")
        seen.add(number)


def _line_flaws(loc: Loc, line: Table, side: str) -> Iterator[Flaw]:
    if side == "row" and ("select" in line or "when" in line):
        key = "select" if "select" in line else "when"
        yield Flaw((*loc, key), "stands on a row: only columns are selected by a relay")
    elif "select" in line and "when" not in line:
        yield Flaw((*loc, "select"), "needs when = 'rest' or 'pulled' beside it")
    elif "when" in line and "select" not in line:
        yield Flaw((*loc, "when"), "needs select, the relay, beside it")
    relay = _class_of(line.get("select"))
    if relay not in ("relay", None):
        yield Flaw((*loc, "select"), f"is {shown(line['select'])}, {_a(relay)}: a relay's designator starts with K")
    yield from _supply_flaws((*loc, "supply"), line)
    seen: set[str] = set()
    for place, ref in texts(line.get("path")):
        if ref in seen:
            yield Flaw((*loc, "path", place), f"is {shown(ref)}, which stands in this path already")
        seen.add(ref)


def _supply_flaws(loc: Loc, table: Table) -> Iterator[Flaw]:
    for place, ref in texts(table.get("supply")):
        kind = _class_of(ref)
        if kind is not None and kind not in SUPPLIES:
            yield Flaw((*loc, place), f"is {shown(ref)}, {_a(kind)}: name a fuse, relay, plug or the like")


def _contact_flaws(loc: Loc, lines: dict[int, Table]) -> Iterator[Flaw]:
    """Yield contacts that two lines of one side claim.

    A contact carries one wire; only the sides of a changeover relay, of which one at a time is live, can share it.
    """
    users: dict[str, list[int]] = {}
    for place, line in lines.items():
        for position, ref in texts(line.get("path")):
            others = [other for other in users.get(ref, []) if not _take_turns(lines[other], line)]
            if "-" in ref and _class_of(ref) != "relay" and others and others[0] != place:
                here = (*loc, place, "path", position)
                yield Flaw(here, f"is {shown(ref)}, a contact that {loc[-1]} {others[0] + 1} uses already")
            users.setdefault(ref, []).append(place)


def _take_turns(first: Table, second: Table) -> bool:
    selected = all("select" in line or "when" in line for line in (first, second))
    return selected and first.get("when") != second.get("when")


def _cell_flaws(loc: Loc, matrix: Table, grid: Grid | None) -> Iterator[Flaw]:
    notes, kind = matrix.get("cell"), matrix.get("kind")
    if not isinstance(notes, dict):
        return
    seen: dict[Number, str] = {}
    for key, note in notes.items():
        number = parse_number(key)
        if number is None:
            continue
        if seen.setdefault(number, key) != key:
            yield Flaw((*loc, key), f"is cell {number} again: write its notes once, under {number}")
        elif grid and number not in grid.place_of:
            advice = ": write [matrix.cell.12] for cell 12" if isinstance(number, str) else ""
            yield Flaw((*loc, key), f"is no number of this grid{advice}")
        elif grid and number not in grid.fitted:
            yield Flaw((*loc, key), f"has notes, but nothing is fitted at {_address(grid.place_of[number])}")
        if isinstance(note, dict) and isinstance(kind, str) and kind in DEVICES:
            yield from _note_flaws((*loc, key), note, kind)


def _note_flaws(loc: Loc, note: Table, kind: str) -> Iterator[Flaw]:
    device = note.get("device", kind)
    if device not in set(chain.from_iterable(DEVICES.values())):
        return
    if device not in DEVICES[kind]:
        yield Flaw((*loc, "device"), f"is {shown(device)}, which a {kind} matrix doesn't drive")
    for key, fits, what in (
        ("rest", device == "switch", "a switch"),
        ("fitted", device in LAMPS, "a lamp"),
        ("keep_warm", device in LAMPS, "a lamp"),
        ("ohms", device == "coil", "a coil"),
        ("tolerance", device == "coil", "a coil"),
    ):
        if key in note and not fits:
            yield Flaw((*loc, key), f"is of use for {what} only, and this is {_a(device)}")
    if "tolerance" in note and "ohms" not in note:
        yield Flaw((*loc, "tolerance"), "needs ohms beside it")


def _class_of(ref: Any) -> str | None:
    """Return the kind of part, None where it is no designator: the models tell of that."""
    return part_class(ref) if isinstance(ref, str) and is_ref(ref) else None


def _address(place: tuple[int, int]) -> str:
    return f"r{place[0] + 1}c{place[1] + 1}"


def _listing(missing: list[Number]) -> str:
    text = ", ".join(map(str, missing[:8]))
    return f"{text} and {len(missing) - 8} more" if len(missing) > 8 else text


def _count(count: int, word: str) -> str:
    plural = f"{word[:-1]}ies" if word.endswith("y") else f"{word}s"
    return f"{count} {word if count == 1 else plural}"


def _a(word: str | None) -> str:
    return f"{'an' if str(word)[0] in 'aeiou' else 'a'} {word}"
