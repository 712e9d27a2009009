"""Machines and readings drawn at random, for properties that must hold of all of them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import count
from typing import Any

from hypothesis import strategies as st
from msgspec.structs import replace

from matrixcheck.diagnosis.advice.bench_checks.by_code import every_check, found_at
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.layout.rules import rule_flaws

SIDE = 4
KINDS = ("switches", "lamps", "coils", "inputs", "strings")


class _Pins:
    """Contacts of parts that all matrices share; each carries one wire."""

    def __init__(self) -> None:
        self._next = count(1)

    def of(self, part: str) -> str:
        return f"{part}-{next(self._next)}"


@st.composite
def machines(draw: st.DrawFn, most: int = 5) -> Layout:
    """One to five matrices of any kind; plugs, chips, fuses and relays run through several of them."""
    pins = _Pins()
    kinds = draw(st.lists(st.sampled_from(KINDS), min_size=1, max_size=most))
    matrices = [_matrix(draw, pins, kind, f"m{number}") for number, kind in enumerate(kinds, 1)]
    data: dict[str, Any] = {"format": 1, "name": "Invented drawn machine", "matrix": matrices}
    assert not list(rule_flaws(data))
    return layout_in(data)


def _matrix(draw: st.DrawFn, pins: _Pins, kind: str, name: str) -> dict[str, Any]:
    side = st.integers(1, SIDE)
    rows, columns = draw(side), 1 if kind == "inputs" else draw(side)
    gaps = draw(st.sets(st.integers(0, rows * columns - 1), max_size=rows * columns - 1)) if draw(_seldom) else set()
    cells = [
        ["" if row * columns + column in gaps else f"{name} {row + 1} {column + 1}" for column in range(columns)]
        for row in range(rows)
    ]
    numbers = [[row * columns + column + 1 for column in range(columns)] for row in range(rows)]
    fitted = [[numbers[r][c] for c in range(columns) if cells[r][c]] for r in range(rows)]
    standing = [[numbers[r][c] for r in range(rows) if cells[r][c]] for c in range(columns)]
    apart = kind in ("inputs", "strings")
    wired_rows = not apart or columns == 1
    matrix: dict[str, Any] = {
        "id": name,
        "kind": {"inputs": "switch", "switches": "switch", "coils": "coil"}.get(kind, "lamp"),
        "numbering": "along-rows",
        "cells": cells,
        "rows_shared": not apart,
        "strobe": draw(st.sampled_from(("column", "row"))),
        "column": [_line(draw, pins, standing[column]) for column in range(columns)],
        "row": [_line(draw, pins, fitted[row]) if wired_rows else {} for row in range(rows)],
    }
    if draw(_seldom):
        matrix["supply"] = draw(_supplies)
    if draw(st.booleans()):
        matrix["volts"] = draw(st.sampled_from((5, 12, 18, 24)))
    if draw(_seldom):
        matrix["diodes"] = draw(st.booleans())
    if kind == "coils" and columns > 1 and draw(st.booleans()):
        relay = draw(st.sampled_from(("K1", "K2")))
        for number, column in enumerate(matrix["column"]):
            column |= {"select": relay, "when": "pulled" if number else "rest"}
    notes = {number: note for row in fitted for number in row if (note := _note(draw, kind))}
    if notes:
        matrix["cell"] = {str(number): note for number, note in notes.items()}
    return matrix


_seldom = st.sampled_from((False, False, True))
_supplies = st.lists(st.sampled_from(("F1", "F2", "K3", "X9")), min_size=1, max_size=2, unique=True)


def _line(draw: st.DrawFn, pins: _Pins, numbers: Sequence[int]) -> dict[str, Any]:
    line: dict[str, Any] = {}
    if draw(st.booleans()):
        path = [pins.of(draw(st.sampled_from(("U1", "U2"))))] if draw(st.booleans()) else []
        path += [f"Q{pins.of('Q').partition('-')[2]}"] if draw(st.booleans()) else []
        path += [draw(st.sampled_from(("K3", "K4")))] if draw(_seldom) and draw(_seldom) else []
        path += [pins.of(draw(st.sampled_from(("X1", "X2", "J3"))))] if draw(st.booleans()) else []
        line["path"] = path
    if draw(st.booleans()) and numbers:
        line["chain"] = draw(st.permutations(numbers))
    if draw(_seldom):
        line["supply"] = draw(_supplies)
    if draw(_seldom):
        line["wire"] = draw(st.sampled_from(("GN/BN", "YE", "WH/RD")))
    return line


def _note(draw: st.DrawFn, kind: str) -> dict[str, Any]:
    if not draw(_seldom):
        return {}
    warm = {"ohms": 330, "volts": 24}
    if kind in ("inputs", "switches"):
        return {"rest": "closed"}
    if kind == "coils":
        flash = {"device": "flash lamp", "fitted": draw(st.sampled_from(("led", "filament"))), "keep_warm": warm}
        return draw(st.sampled_from(({"ohms": 4.2, "tolerance": 0.1}, {"ohms": 11.5}, flash)))
    return draw(st.sampled_from(({"fitted": "led"}, {"fitted": "led", "keep_warm": warm}, {"fitted": "filament"})))


@st.composite
def evenings(draw: st.DrawFn, layout: Layout) -> list[Reading]:
    """Some readings of some of a layout's matrices: what up to three faults would show, or what comes to mind."""
    planted = _planted(draw, layout)
    found: list[Reading] = []
    for matrix in layout.matrices:
        manner = draw(st.sampled_from(("marks", "lists", "both", "nothing")))
        if manner == "nothing":
            continue
        asked = _asked(draw, matrix)
        shown = predict(layout, planted, asked)
        found += [reading for each in shown if (reading := _taken(draw, matrix, each, manner)) is not None]
    return draw(st.permutations(found)) if draw(_seldom) else found


def _planted(draw: st.DrawFn, layout: Layout) -> list[Any]:
    pool = candidates(layout)
    chosen = draw(st.lists(st.integers(0, len(pool) - 1), max_size=3, unique=True))
    return [pool[number].fault for number in chosen]


def _asked(draw: st.DrawFn, matrix: Matrix) -> list[Reading]:
    cells = [cell.key for cell in matrix.fitted]
    some = cells if draw(st.booleans()) else draw(st.lists(st.sampled_from(cells), max_size=len(cells)))
    held: list[CellKey] = []
    if matrix.kind is Kind.SWITCH and draw(_seldom):
        held = draw(st.lists(st.sampled_from(cells), max_size=3, unique=True))
    exercised = [Reading(matrix=matrix.id, cell=key, held=tuple(one for one in held if one != key)) for key in some]
    scans = [Reading(matrix=matrix.id, held=tuple(held))] if draw(st.booleans()) else []
    return [*scans, *exercised]


def _taken(draw: st.DrawFn, matrix: Matrix, reading: Reading, manner: str) -> Reading | None:
    """A reading as somebody takes it: as it was, as a mark alone, wrongly, or with something besides."""
    answered = set(reading.answered or ())
    places = [CellKey(matrix.id, r + 1, c + 1) for r in range(matrix.size[0]) for c in range(matrix.size[1])]
    if draw(_seldom) and draw(_seldom):
        answered ^= set(draw(st.lists(st.sampled_from(places), max_size=2)))
    faint = set(reading.faint) - answered
    if matrix.kind is not Kind.SWITCH and draw(_seldom) and draw(_seldom):
        faint = set(draw(st.lists(st.sampled_from(places), max_size=2))) - answered
    extra: dict[str, Any] = {"blew": draw(st.sampled_from((True, "F1")))} if draw(st.integers(0, 40)) == 17 else {}
    as_mark = manner == "marks" or (manner == "both" and draw(st.booleans()))
    if reading.cell is None:
        if as_mark:
            return None
        return replace(reading, answered=tuple(sorted(answered)), faint=tuple(sorted(faint)), **extra)
    if matrix.kind is Kind.COIL and draw(_seldom):
        extra["ohms"] = draw(st.sampled_from((0.0, 2.0, 4.2, 12.0, 1e6)))
        if draw(st.booleans()):
            return Reading(matrix=matrix.id, cell=reading.cell, **extra)
    if as_mark:
        mark = draw(st.sampled_from((Mark.STUCK, Mark.WORKING))) if reading.cell in answered else Mark.DEAD
        return Reading(matrix=matrix.id, cell=reading.cell, held=reading.held, mark=mark, **extra)
    return replace(reading, answered=tuple(sorted(answered)), faint=tuple(sorted(faint)), **extra)


@st.composite
def findings(draw: st.DrawFn, layout: Layout) -> list[Finding]:
    """What a few bench checks and repairs said, of parts, wires and cells."""
    places = [
        *layout.lines_through,
        *(str(line) for matrix in layout.matrices for line in matrix.lines),
        *(str(cell.key) for matrix in layout.matrices for cell in matrix.fitted),
    ]
    verdicts = st.sampled_from(("good", "faulty", "replaced"))
    said = st.builds(Finding, place=st.sampled_from(places), verdict=verdicts)
    if not draw(_seldom):
        return []
    checks = st.sampled_from([*every_check(layout).values()])
    by_code = st.builds(lambda known, word: found_at(known, word)[0], checks, st.sampled_from(("good", "faulty")))
    return draw(st.lists(said | by_code, max_size=3))
