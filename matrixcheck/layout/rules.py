"""What must hold between the keys of a layout, beyond the shape of each: parts, and the matrices beside one another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from matrixcheck.layout.designators import is_ref, owner
from matrixcheck.layout.matrix_rules import matrix_flaws
from matrixcheck.layout.problems import Flaw, nearest, shown
from matrixcheck.layout.raw import Table, all_texts, tables


def rule_flaws(data: Table) -> Iterator[Flaw]:
    """Yield each rule that the layout's data breaks. Values of a wrong type are passed over: the models refuse them."""
    if data.get("matrix", []) == []:
        yield Flaw(("matrix",), "is missing: give at least one [[matrix]] with id, kind and cells")
    seen: dict[Any, int] = {}
    for place, matrix in tables(data.get("matrix")):
        name = matrix.get("id")
        if isinstance(name, str) and seen.setdefault(name, place) != place:
            yield Flaw(("matrix", place, "id"), f"is {shown(name)} again: matrix {seen[name] + 1} has that id already")
        yield from matrix_flaws(("matrix", place), matrix)
    yield from _part_flaws(data)


def _part_flaws(data: Table) -> Iterator[Flaw]:
    named = _named_parts(data)
    described = {part["ref"] for _, part in tables(data.get("part")) if isinstance(part.get("ref"), str)}
    seen: dict[str, int] = {}
    for place, part in tables(data.get("part")):
        ref, loc = part.get("ref"), ("part", place, "ref")
        if not isinstance(ref, str):
            continue
        if seen.setdefault(ref, place) != place:
            yield Flaw(loc, f"is {shown(ref)} again: part {seen[ref] + 1} describes it already")
        elif ref not in named and is_ref(ref):
            meant = nearest(ref, (name for name in named if name not in described and ("-" in name) == ("-" in ref)))
            yield Flaw(loc, f"is {shown(ref)}, which no path, supply or select names", meant)


def _named_parts(data: Table) -> dict[str, None]:
    """List every designator that stands anywhere in a matrix, and the part that each contact belongs to.

    They come in the file's order, also where their key is misspelt.
    """
    refs = [text for text in all_texts(data.get("matrix")) if is_ref(text)]
    return {name: None for ref in refs for name in (ref, owner(ref))}
