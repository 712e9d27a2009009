"""`python -m tests.bench isolation`: how many cells must be tested, after a first dead one, until its cause is known.

One cell of an 8x8 bank was found dead; the causes are all that can take that cell out, at the shipped rates.
Cells are then tested as `next_tests` advises, until nothing that marks can tell apart is left. Beside it stand the
best that any order could do (dynamic programming over the causes left) and testing row by row.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from matrixcheck.diagnosis.advice.next_tests import Exercise, Hypothesis, Outcome, next_tests
from matrixcheck.diagnosis.forward.fault_effects import Setting
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.marks import WRONG, Cover, drawn_layout
from tests.bench.tally import table


@dataclass(frozen=True)
class Puzzle:
    """One dead cell: the sets of cells that a cause may take out, each with its chance and one fault that does so."""

    layout: Layout
    seen: CellKey
    covers: tuple[Cover, ...]
    weights: tuple[float, ...]
    faults: tuple[Fault, ...]

    def split(self, left: frozenset[int], cell: CellKey) -> tuple[frozenset[int], frozenset[int]]:
        """The causes left that would make the cell dead, and those that would not."""
        dead = frozenset(i for i in left if cell in self.covers[i])
        return dead, left - dead

    def weight(self, left: frozenset[int]) -> float:
        """The chance of all of them together."""
        return sum(self.weights[i] for i in left)


def draw_puzzle(seed: str, size: int = 8) -> Puzzle:
    """The puzzle of a seed, on a full bank with known chains."""
    rng = random.Random(seed)
    _, layout, killing = drawn_layout(f"{rng.randrange(40)}", size, True)
    pool = [each for each in killing if each.fault_class is not FaultClass.CROSSED]  # told at once by what answers
    seen = rng.choice(layout.matrices[0].fitted).key
    own = [each for each in candidates(layout) if each.cells == (seen,) and each.fault_class is FaultClass.DEVICE_DEAD]
    merged: dict[Cover, list[Candidate]] = {}
    for each in (*own, *pool):
        if seen in each.cells:
            merged.setdefault(frozenset(each.cells), []).append(each)
    weights = [sum(each.rate for each in group) for group in merged.values()]
    faults = tuple(group[0].fault for group in merged.values())
    return Puzzle(layout, seen, tuple(merged), tuple(weight / sum(weights) for weight in weights), faults)


def optimal(puzzle: Puzzle) -> float:
    """The least expected count of tests that any strategy can reach."""
    cells = [cell.key for cell in puzzle.layout.matrices[0].fitted]

    @cache
    def least(left: frozenset[int]) -> float:
        if len(left) == 1:
            return 0.0
        splits = {puzzle.split(left, cell) for cell in cells}
        return min(
            1 + sum(puzzle.weight(part) / puzzle.weight(left) * least(part) for part in split)
            for split in splits
            if all(split)
        )

    return least(frozenset(range(len(puzzle.covers))))


def advised(puzzle: Puzzle) -> float:
    """The expected count of tests when each is the first that `next_tests` advises."""

    def predict(faults: tuple[Fault, ...], exercises: Sequence[Exercise], _: Setting) -> list[Outcome]:
        lost = {cell for fault in faults for cell in fault.cells}
        return [Outcome(each.cell not in lost) for each in exercises]

    first = Reading(matrix=puzzle.seen.matrix, cell=puzzle.seen, mark=Mark.DEAD)
    rest = Reading(matrix=puzzle.seen.matrix, answered=())

    def count(left: frozenset[int], readings: tuple[Reading, ...]) -> float:
        if len(left) == 1:
            return 0.0
        ways = [Hypothesis(puzzle.weights[i], (puzzle.faults[i],), (puzzle.faults[i],)) for i in sorted(left)]
        cell = next_tests(puzzle.layout, readings, ways, predict, wrong=WRONG, limit=1)[0].cell
        assert cell is not None
        found = 1.0
        for part, mark in zip(puzzle.split(left, cell), (Mark.DEAD, Mark.WORKING), strict=True):
            if part == left:
                raise ValueError(f"{cell} tells nothing, {len(left)} causes are left")
            made = Reading(matrix=cell.matrix, cell=cell, mark=mark)
            found += puzzle.weight(part) / puzzle.weight(left) * count(part, (*readings, made))
        return found

    return count(frozenset(range(len(puzzle.covers))), (rest, first))


def row_by_row(puzzle: Puzzle) -> float:
    """The expected count when every cell is tested in turn until the cause is known."""
    matrix = puzzle.layout.matrices[0]
    order = sorted((cell.key for cell in matrix.fitted if cell.key != puzzle.seen), key=lambda key: key[1:])

    def count(left: frozenset[int], done: int) -> float:
        if len(left) == 1:
            return 0.0
        parts = [part for part in puzzle.split(left, order[done]) if part]
        return 1 + sum(puzzle.weight(part) / puzzle.weight(left) * count(part, done + 1) for part in parts)

    return count(frozenset(range(len(puzzle.covers))), 0)


def main(argv: list[str]) -> int:
    """Prints the three expected counts."""
    parser = argparse.ArgumentParser("python -m tests.bench isolation")
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--size", type=int, default=8)
    options = parser.parse_args(argv)
    puzzles = [draw_puzzle(f"isolation {options.seed} {i}", options.size) for i in range(options.count)]
    best, ours, rows = (sum(map(way, puzzles)) / len(puzzles) for way in (optimal, advised, row_by_row))
    lines = [("best possible", f"{best:.2f}", "1"), ("matrixcheck", f"{ours:.2f}", f"{ours / best:.3f}")]
    lines.append(("row by row", f"{rows:.2f}", f"{rows / best:.1f}"))
    title = f"tests until isolation, {options.size}x{options.size}, {options.count} machines"
    table(title, lines, ("", "cells tested", "of the best"))
    return 0
