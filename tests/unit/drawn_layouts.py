"""Layouts drawn at random, with all that lines, numbers and grids may hold, for properties of files and charts."""

from __future__ import annotations

from functools import partial
from typing import Any

from hypothesis import strategies as st

from matrixcheck.layout.files import flaws_in
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import is_seen
from matrixcheck.layout.wires import COLOURS

PARTS = [f"{letters}{count}" for letters in ("U", "Q", "X", "J", "K", "R", "D") for count in (1, 2)]

printable = st.characters(categories=("L", "N", "P", "S"), include_characters=" ")
seen = st.text(printable, min_size=1, max_size=9).map(str.strip).filter(lambda text: any(map(is_seen, text)))
names = st.one_of(
    seen, st.sampled_from(["NOT USED", "-", "24", "Row 1", "kind:", "red", "J1-1", "=1+1", "a;b|c", 'say "x"'])
)
wires = st.one_of(st.sampled_from(list(COLOURS)), st.builds("{}/{}".format, *[st.sampled_from(list(COLOURS))] * 2))


def _contacts(pin: str, refs: list[str]) -> list[str]:
    return [f"{ref}-{pin}" for ref in refs]


@st.composite
def lines(draw: st.DrawFn, side: str, count: int, bare: bool) -> list[dict[str, Any]]:
    """Lines of one side. A contact of theirs is nobody else's; the first letter of a path may be any part's."""
    found = []
    for place in range(count):
        wired: dict[str, Any] = {"label": names, "name": names}
        if not bare:
            refs = st.lists(st.sampled_from(PARTS), unique=True, max_size=3)
            wired |= {
                "wire": wires,
                "path": refs.map(partial(_contacts, f"{side[0].upper()}{place}")),
                "supply": st.lists(st.sampled_from(["F1", "F2", "K3"]), unique=True, min_size=1),
            }
        line = draw(st.fixed_dictionaries({}, optional=wired))
        if side == "column" and draw(st.booleans()):
            line |= {"select": "K1", "when": draw(st.sampled_from(["rest", "pulled"]))}
        found.append(line)
    return found


@st.composite
def layouts(draw: st.DrawFn) -> Layout:
    """Layouts with everything that a chart can hold, of every kind of matrix, and with some things that it can't."""
    matrices = [draw(matrix(name)) for name in draw(st.sampled_from([["a"], ["a", "b"], ["switches", "lamps-2", "c"]]))]
    data = {"format": 1, "name": draw(names), "matrix": matrices}
    assert flaws_in(data) == []
    return layout_in(data)


@st.composite
def matrix(draw: st.DrawFn, name: str) -> dict[str, Any]:
    rows, columns = draw(st.integers(1, 4)), draw(st.integers(1, 4))
    cells = [[draw(st.one_of(st.just(""), names)) for _ in range(columns)] for _ in range(rows)]
    cells[0][0] = draw(names)
    shared = draw(st.booleans())
    table: dict[str, Any] = {"id": name, "kind": draw(st.sampled_from(["switch", "lamp", "coil"])), "cells": cells}
    table |= draw(
        st.fixed_dictionaries(
            {},
            optional={
                "name": names,
                "strobe": st.sampled_from(["row", "column"]),
                "diodes": st.booleans(),
                "volts": st.floats(0.1, 1000),
                "supply": st.just(["F3", "K9"]),
            },
        )
    )
    table["rows_shared"] = shared
    table["column"] = draw(lines("column", draw(st.integers(0, columns)), False))
    table["row"] = draw(lines("row", draw(st.integers(0, rows)), not shared and columns > 1))
    table["numbering"] = draw(
        st.sampled_from(["down-columns", "along-rows", "column-then-row", "row-then-column", "listed"])
    )
    if table["numbering"] == "listed":
        free = draw(st.permutations([*range(1, 10), *(f"A{count}" for count in range(5)), "9L", "B-2"]))
        table["numbers"] = [
            [
                free[row * columns + column] if cells[row][column] or draw(st.booleans()) else ""
                for column in range(columns)
            ]
            for row in range(rows)
        ]
    return table
