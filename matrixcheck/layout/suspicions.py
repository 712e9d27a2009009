"""What in a layout is allowed and rarely meant: warnings, each at its place, from data that may have flaws as well."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

from matrixcheck.layout.charts.words import is_unused
from matrixcheck.layout.designators import is_ref, owner, part_class
from matrixcheck.layout.limits import whole_number
from matrixcheck.layout.problems import Flaw, Loc, nearest, shown
from matrixcheck.layout.raw import Grid, Table, tables, texts

REACHES = ("hand", "ball", "door open", "glass off", "playfield up", "back box open", "board out")
"""Usual words for how a device is got at; the later list is in the order of the work."""
KEY_PINS = 2
"""A plug may lack a contact or two: a key, or one that nothing uses."""


def warning_flaws(data: Table) -> Iterator[Flaw]:
    """Yield each warning. Values of a wrong type are passed over: the models refuse them."""
    for flaw in (*_part_warnings(data), *_matrix_warnings(data)):
        yield flaw._replace(severity="warning")


def _matrix_warnings(data: Table) -> Iterator[Flaw]:
    wired: dict[str, str] = {}
    for place, matrix in tables(data.get("matrix")):
        loc: Loc = ("matrix", place)
        yield from _name_warnings((*loc, "cells"), matrix.get("cells"))
        for side in ("column", "row"):
            lines = dict(tables(matrix.get(side)))
            yield from _label_warnings((*loc, side), lines)
            yield from _shared_warnings((*loc, side), lines, side)
            yield from _wired_warnings((*loc, side), lines, f"{matrix.get('id')} {side}", wired)
        yield from _relay_warnings((*loc, "column"), dict(tables(matrix.get("column"))))
        yield from _strobe_warnings(loc, matrix)
        yield from _empty_line_warnings(loc, matrix)
        yield from _note_warnings((*loc, "cell"), matrix.get("cell"))
    yield from _gap_warnings(data)


def _name_warnings(loc: Loc, cells: Any) -> Iterator[Flaw]:
    seen: dict[str, str] = {}
    for row, names in enumerate(cells if isinstance(cells, list) else []):
        for column, name in texts(names):
            here, key = (*loc, row, column), " ".join(name.casefold().split())
            if name and is_unused(name):
                yield Flaw(here, f'is {shown(name)}, and so a device: put "" where nothing is fitted')
            elif name != name.strip():
                yield Flaw(here, f"is {shown(name)}, with blanks around the name", name.strip() or None)
            elif name and seen.setdefault(key, f"r{row + 1}c{column + 1}") != f"r{row + 1}c{column + 1}":
                yield Flaw(here, f"is {shown(name)} again: {seen[key]} has that name already")


def _label_warnings(loc: Loc, lines: dict[int, Table]) -> Iterator[Flaw]:
    """Yield labels that stand twice, and counts that jump: a line's table was forgotten there."""
    seen: dict[str, int] = {}
    before: int | None = None
    for place, line in lines.items():
        label = str(line.get("label", "") or place + 1)
        count = whole_number(label)
        if seen.setdefault(label, place) != place:
            yield Flaw((*loc, place, "label"), f"is {shown(label)} again: {loc[-1]} {seen[label] + 1} has it already")
        elif count is not None and before is not None and count > before + 1:
            left_out = str(before + 1) if count == before + 2 else f"{before + 1} to {count - 1}"
            yield Flaw((*loc, place, "label"), f"is {shown(label)} after '{before}': give {left_out} a table too")
        before = count


def _shared_warnings(loc: Loc, lines: dict[int, Table], side: str) -> Iterator[Flaw]:
    """Yield transistors and wire colours that two lines of a side have in common."""
    for key, of, what in (("wire", _wire_of, "a wire colour"), ("path", _drivers_of, "a transistor")):
        users: dict[str, int] = {}
        for place, line in lines.items():
            for value, at in of(line):
                first = users.setdefault(value, place)
                if first != place and not _take_turns(lines[first], line):
                    yield Flaw((*loc, place, key, *at), f"is {shown(value)}, {what} that {side} {first + 1} has too")


def _wire_of(line: Table) -> Iterator[tuple[str, tuple[int, ...]]]:
    if isinstance(line.get("wire"), str):
        yield line["wire"], ()


def _drivers_of(line: Table) -> Iterator[tuple[str, tuple[int, ...]]]:
    return ((ref, (at,)) for at, ref in texts(line.get("path")) if is_ref(ref) and part_class(ref) == "transistor")


def _take_turns(first: Table, second: Table) -> bool:
    return "select" in first and first.get("when") != second.get("when")


def _wired_warnings(loc: Loc, lines: dict[int, Table], name: str, wired: dict[str, str]) -> Iterator[Flaw]:
    """Yield contacts and transistors that a line of another side or matrix has as well."""
    own: dict[str, str] = {}
    for place, line in lines.items():
        for at, ref in texts(line.get("path")):
            if not is_ref(ref) or not ("-" in ref or part_class(ref) == "transistor") or part_class(ref) == "relay":
                continue
            if ref in wired:
                yield Flaw((*loc, place, "path", at), f"is {shown(ref)}, which {wired[ref]} has too")
            own.setdefault(ref, f"{name} {place + 1}")
    wired |= own


def _relay_warnings(loc: Loc, columns: dict[int, Table]) -> Iterator[Flaw]:
    for relay in dict.fromkeys(line["select"] for line in columns.values() if isinstance(line.get("select"), str)):
        sides = {place: line.get("when") for place, line in columns.items() if line.get("select") == relay}
        if len(sides) > 1 and len(set(sides.values())) == 1:
            last = list(sides)[-1]
            other = "pulled" if sides[last] == "rest" else "rest"
            yield Flaw((*loc, last, "when"), f"is {shown(sides[last])} for every column that {relay} selects", other)


def _strobe_warnings(loc: Loc, matrix: Table) -> Iterator[Flaw]:
    if matrix.get("kind") != "switch" or matrix.get("rows_shared") is False:
        return
    strobe = matrix.get("strobe", "column")
    driven = {side: any(any(_drivers_of(line)) for _, line in tables(matrix.get(side))) for side in ("column", "row")}
    other = "row" if strobe == "column" else "column"
    if driven[other] and not driven.get(strobe, True):
        yield Flaw((*loc, "strobe"), f"is {shown(strobe)}, but only {other}s have a transistor to drive them", other)


def _empty_line_warnings(loc: Loc, matrix: Table) -> Iterator[Flaw]:
    grid = Grid.of(matrix)
    for side in ("column", "row") if grid else ():
        for place, line in tables(matrix.get(side)):
            if grid and not grid.numbers_on(side, place) and line.get("supply"):
                yield Flaw((*loc, side, place, "supply"), f"feeds nothing: no cell of {side} {place + 1} is fitted")


def _note_warnings(loc: Loc, notes: Any) -> Iterator[Flaw]:
    for key, note in notes.items() if isinstance(notes, dict) else ():
        reach = note.get("reach") if isinstance(note, dict) else None
        if isinstance(reach, str) and reach and reach not in REACHES:
            meant = nearest(reach, REACHES)
            yield Flaw((*loc, key, "reach"), f"is {shown(reach)}, which is none of {', '.join(REACHES)}", meant)


def _gap_warnings(data: Table) -> Iterator[Flaw]:
    """Yield contacts that lie far beyond the other contacts of their plug."""
    used: dict[str, dict[int, Loc]] = {}
    for place, matrix in tables(data.get("matrix")):
        for side in ("column", "row"):
            for at, line in tables(matrix.get(side)):
                for step, ref in texts(line.get("path")):
                    pin = (
                        whole_number(ref.partition("-")[2]) if is_ref(ref) and part_class(ref) == "connector" else None
                    )
                    if pin is not None:
                        used.setdefault(owner(ref), {}).setdefault(pin, ("matrix", place, side, at, "path", step))
    for plug, pins in used.items():
        ordered = sorted(pins)
        for before, pin in pairwise(ordered):
            if pin - before - 1 > max(KEY_PINS, len(pins)):
                yield Flaw(pins[pin], f"is '{plug}-{pin}', far beyond '{plug}-{before}': no path has a contact between")


def _part_warnings(data: Table) -> Iterator[Flaw]:
    """Yield parts that are used and not described, where most of their kind are and one is spelt alike."""
    described = {ref for _, part in tables(data.get("part")) if isinstance(ref := part.get("ref"), str) and is_ref(ref)}
    uses = list(_uses(data))
    names = {owner(ref) for _, ref in uses}
    for kind in dict.fromkeys(part_class(ref) for ref in described):
        used = {ref for ref in names if part_class(ref) == kind}
        if len(used & described) * 2 <= len(used):
            continue
        for loc, ref in uses:
            missing = owner(ref)
            unused_first = sorted(described, key=lambda ref: (ref in used, ref))
            twin = _twin(missing, unused_first) if missing in used - described else None
            if twin:
                yield Flaw(loc, f"is {shown(ref)}, and no [[part]] describes {missing}", twin + ref[len(missing) :])


def _uses(data: Table) -> Iterator[tuple[Loc, str]]:
    def steps(loc: Loc, table: Table, keys: Sequence[str]) -> Iterator[tuple[Loc, str]]:
        for key in keys:
            yield from (((*loc, key, step), ref) for step, ref in texts(table.get(key)) if is_ref(ref))

    for place, matrix in tables(data.get("matrix")):
        loc: Loc = ("matrix", place)
        yield from steps(loc, matrix, ("supply",))
        for side in ("column", "row"):
            for at, line in tables(matrix.get(side)):
                yield from steps((*loc, side, at), line, ("path", "supply"))
                select = line.get("select")
                if isinstance(select, str) and is_ref(select):
                    yield (*loc, side, at, "select"), select


def _twin(ref: str, described: Sequence[str]) -> str | None:
    """Return a described part whose designator differs by one letter or digit that was added, left out or changed."""
    return next((other for other in described if part_class(other) == part_class(ref) and _one_apart(ref, other)), None)


def _one_apart(one: str, other: str) -> bool:
    shorter, longer = sorted((one, other), key=len)
    if len(shorter) == len(longer):
        return sum(a != b for a, b in zip(one, other, strict=True)) == 1
    return any(longer[:place] + longer[place + 1 :] == shorter for place in range(len(longer)))
