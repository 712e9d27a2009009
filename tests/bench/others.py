"""What others would say: a row and column majority, an Ochiai ranking, and OR-tools CP-SAT on the exact model."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import sqrt
from typing import Any

from ortools.sat.python import cp_model

from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Reading
from tests.bench.marks import Cover, Marked, Model

SCALE = 100_000  # log likelihoods as whole numbers


def ten_best(model: Model, count: int = 10) -> list[list[Cover]]:
    """The most probable fault sets by CP-SAT: solved, forbidden, solved again."""
    problem = cp_model.CpModel()
    chosen = [problem.new_bool_var(f"f{i}") for i in range(len(model.covers))]
    gains = [SCALE * odds * var for odds, var in zip(model.odds, chosen, strict=True)]
    for cell, alive in model.alive.items():
        over = [var for var, cover in zip(chosen, model.covers, strict=True) if cell in cover]
        lost = problem.new_bool_var(str(cell))
        problem.add_max_equality(lost, over)
        gains.append(SCALE * (model.lost[cell] - alive) * lost)
    problem.maximize(sum(gains))
    found = []
    for _ in range(count):
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        if solver.solve(problem) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        values = [solver.boolean_value(var) for var in chosen]
        found.append([cover for cover, value in zip(model.covers, values, strict=True) if value])
        problem.add_bool_or([~var if value else var for var, value in zip(chosen, values, strict=True)])
    return found


def majority_marks(machine: Marked) -> list[Cover]:
    """Every line of which more than half the tested cells, at least two, are dead."""
    found = []
    for line in machine.layout.matrices[0].lines:
        cells = [cell for cell in machine.marks if on_line(cell, line)]
        dead = [cell for cell in cells if machine.marks[cell]]
        if len(dead) > 1 and len(dead) * 2 > len(cells):
            found.append(frozenset(cells))
    return found


def ochiai_marks(machine: Marked, model: Model) -> list[Cover]:
    """The fault with the best Ochiai coefficient over the dead marks, then the best over what is left, while one
    explains at least two."""
    left = {cell for cell, dead in machine.marks.items() if dead}
    found = []
    while left:
        best = max(model.covers, key=lambda cover: ochiai(len(cover & left), len(cover), len(left)), default=None)
        if best is None or len(best & left) < 2 or ochiai(len(best & left), len(best), len(left)) < 0.3:
            break
        found.append(best)
        left -= best
    return found


def ochiai(both: int, predicted: int, seen: int) -> float:
    """Ochiai's coefficient: shared over the geometric mean."""
    return both / sqrt(predicted * seen) if both else 0.0


def on_line(cell: CellKey, line: LineKey) -> bool:
    """Whether a cell hangs on a line."""
    return line.place == (cell.row if line.side == "row" else cell.column)


Spot = tuple[int, CellKey]


class Spectra:
    """For every single fault of a layout: where the readings would be others than a healthy machine's."""

    def __init__(self, layout: Layout, readings: Sequence[Reading]) -> None:
        self.healthy = predict(layout, [], readings)
        self.groups: dict[frozenset[Spot], list[dict[str, Any]]] = {}
        for each in candidates(layout):
            spots = odd(self.healthy, predict(layout, [each.fault], readings))
            if spots:
                self.groups.setdefault(spots, []).append(to_json(each.fault))


def odd(healthy: Sequence[Reading], seen: Sequence[Reading]) -> frozenset[Spot]:
    """The places, reading by reading, that show otherwise."""
    found = set()
    for i, (a, b) in enumerate(zip(healthy, seen, strict=True)):
        shown = set(a.answered or ()) | set(a.faint), set(b.answered or ()) | set(b.faint)
        found |= {(i, cell) for cell in shown[0] ^ shown[1]}
    return frozenset(found)


def ochiai_sets(spectra: Spectra, readings: Sequence[Reading]) -> Mapping[str, Any]:
    """Three ranked answers, in a diagnosis's shape: for the three best single faults, each with what is then left
    explained in the same way."""
    seen = odd(spectra.healthy, readings)
    first = sorted(spectra.groups, key=lambda spots: -ochiai(len(spots & seen), len(spots), len(seen)))[:3]
    ranked = []
    for start in first or [frozenset[Spot]()]:
        sets, left = [], seen
        best: frozenset[Spot] | None = start
        while best and ochiai(len(best & left), len(best), len(left)) > 0.15:
            sets.append(best)
            left -= best
            best = max(
                spectra.groups, key=lambda spots: ochiai(len(spots & left), len(spots), max(len(left), 1)), default=None
            )
        ranked.append(sets)
    names = {spots: f"s{i}" for i, spots in enumerate(spectra.groups)}
    return {
        "suspects": [{"id": names[spots], "members": members} for spots, members in spectra.groups.items()],
        "explanations": [{"probability": 1.0, "suspects": [names[spots] for spots in sets]} for sets in ranked],
    }


def majority_sets(layout: Layout, readings: Sequence[Reading]) -> Mapping[str, Any]:
    """The workshop's rule, in a diagnosis's shape: a line most of whose cells are dead is open, a line all of whose
    cells answer where nothing was done is stuck, a line whose cells mostly answer for another's are shorted or crossed;
    single cells stand for themselves."""
    matrix = layout.matrices[0]
    done = {reading.cell: set(reading.answered or ()) for reading in readings if reading.cell}
    dead = {cell for cell, shown in done.items() if cell not in shown}
    rests = [set(reading.answered or ()) - set(reading.held) for reading in readings if reading.cell is None]
    stuck = set.intersection(*rests) if rests else set()
    blamed: list[dict[str, Any]] = []
    left_dead, left_stuck = set(dead), set(stuck)
    for line in matrix.lines:
        cells = {cell for cell in done if on_line(cell, line)}
        if cells and len(cells & stuck) * 2 > len(cells):
            blamed += [_member(name, [line]) for name in ("stuck-on", "grounded")]
            left_stuck -= {cell for cell in stuck if on_line(cell, line)}
        elif len(cells & dead) > 1 and len(cells & dead) * 2 > len(cells):
            blamed.append(_member("open", [line]))
            left_dead -= cells
    for part, lines in layout.lines_through.items():
        if "-" not in part and all(any(m["lines"] == [str(line)] for m in blamed) for line in lines):
            name = "fuse-blown" if part[0] == "F" else "unplugged" if part[0] == "X" else "open"
            blamed.append(_member(name, list(lines), part))
    blamed += _swaps(matrix.lines, done)
    for cell in sorted(left_dead):
        blamed += [_member(name, [], cell=cell) for name in ("device-dead", "diode-open", "diode-reversed")]
    blamed += [_member("device-stuck", [], cell=cell) for cell in sorted(left_stuck)]
    suspects = [{"id": f"s{i}", "members": [member]} for i, member in enumerate(blamed)]
    return {
        "suspects": suspects,
        "explanations": [{"probability": 1.0, "suspects": [suspect["id"] for suspect in suspects]}],
    }


def _swaps(lines: Mapping[LineKey, Any], done: Mapping[CellKey, set[CellKey]]) -> list[dict[str, Any]]:
    found = []
    for a in lines:
        for b in lines:
            if a.side == b.side and a.place < b.place:
                pairs = [(cell, _moved(cell, a, b)) for cell in done if on_line(cell, a) or on_line(cell, b)]
                both = [cell for cell, twin in pairs if twin in done[cell] and cell in done[cell]]
                instead = [cell for cell, twin in pairs if twin in done[cell] and cell not in done[cell]]
                if len(both) * 2 > len(pairs):
                    found.append(_member("shorted-together", [a, b]))
                elif len(instead) * 2 > len(pairs):
                    found.append(_member("crossed", [a, b]))
    return found


def _moved(cell: CellKey, a: LineKey, b: LineKey) -> CellKey:
    place = b.place if on_line(cell, a) else a.place
    return CellKey(cell.matrix, place, cell.column) if a.side == "row" else CellKey(cell.matrix, cell.row, place)


def _member(name: str, lines: list[LineKey], part: str | None = None, cell: CellKey | None = None) -> dict[str, Any]:
    return {
        "fault": name,
        "part": part,
        "lines": [str(line) for line in lines],
        "cells": [str(cell)] if cell else [],
        "after": None,
        "with": str(lines[1]) if name in ("shorted-together", "crossed") else None,
        "when": None,
    }
