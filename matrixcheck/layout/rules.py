"""What must hold between the keys of a layout, beyond the shape of each: parts, checks, matrices beside one another."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from matrixcheck.layout.check_names import is_earth, same
from matrixcheck.layout.designators import is_ref, owner
from matrixcheck.layout.limits import MEASURED
from matrixcheck.layout.matrix_rules import matrix_flaws
from matrixcheck.layout.problems import Flaw, Loc, nearest, shown
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
    yield from _check_flaws(data)


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


def _check_flaws(data: Table) -> Iterator[Flaw]:
    seen: dict[tuple[Any, str], int] = {}
    for place, check in tables(data.get("check")):
        section, text, loc = check.get("section"), check.get("text"), ("check", place)
        if isinstance(text, str) and isinstance(section, str):
            key = section, same(text)
            if seen.setdefault(key, place) != place:
                yield Flaw((*loc, "text"), f"is {shown(text)} again: check {seen[key] + 1} says so already")
        yield from _measure_flaws(loc, check)


def _measure_flaws(loc: Loc, check: Table) -> Iterator[Flaw]:
    """Yield what is wrong with the limits of one check: unit and limits go together."""
    least, most = check.get("least"), check.get("most")
    limits = [key for key in ("least", "most") if key in check]
    if "unit" not in check:
        yield from (Flaw((*loc, key), "has no unit: give one of ohms, megohms, volts, amps") for key in limits)
    elif is_earth(str(check.get("text"))):
        yield Flaw((*loc, "unit"), "is not for an earth bond: its limit is that of the mains lead")
    elif not limits:
        yield Flaw((*loc, "unit"), "has no limit: give least, most or both")
    elif check.get("section") != "before power":
        yield Flaw((*loc, "unit"), "is only for a check before power: the others are good or faulty")
    if least is not None and most is not None and MEASURED.holds(least) and MEASURED.holds(most) and least > most:
        yield Flaw((*loc, "least"), f"is {least:g}, above most, which is {most:g}")


def _named_parts(data: Table) -> dict[str, None]:
    """List every designator that stands anywhere in a matrix, and the part that each contact belongs to.

    They come in the file's order, also where their key is misspelt.
    """
    refs = [text for text in all_texts(data.get("matrix")) if is_ref(text)]
    return {name: None for ref in refs for name in (ref, owner(ref))}
