"""Which matrix, line and crossing of one layout is which of another: of the same machine, put right meanwhile.

Cells are matched by number, then by name, then by place within the same matrix. Both ways give the same pairs: what A
is matched with in B is matched with it from B.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Sequence
from itertools import product
from typing import TypeVar

from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import CellKey, LineKey

Thing = TypeVar("Thing")
Pairs = list[tuple[Thing, Thing]]


def matched(old: Layout, new: Layout) -> dict[str, str]:
    """Return what places of one layout are in the other: ids of matrices, lines and crossings, fitted or not.

    They are written as their keys are (`switches`, `switches.c3`, `switches.r1c3`); what has no match is left out.
    """
    found: dict[str, str] = {}
    for one, other in matching_matrices(old, new):
        cells = _cells(one, other)
        found[one.id] = other.id
        found |= {str(line): str(its) for line, its in _lines(one, other, cells)}
        found |= {str(key): str(its) for key, its in cells}
    return found


def places_in(layout: Layout) -> tuple[str, ...]:
    """Return every place of a layout that events name: ids of matrices, lines and crossings, fitted or not."""
    return tuple(
        place
        for matrix in layout.matrices
        for place in (matrix.id, *map(str, lines_in(matrix)), *map(str, crossings(matrix)))
    )


def matching_matrices(old: Layout, new: Layout) -> Pairs[Matrix]:
    """Return the matrices that are the same: by id, then by name, then the only ones left of their kind."""
    return _paired(
        old.matrices,
        new.matrices,
        lambda matrix: (matrix.kind, matrix.id),
        lambda matrix: (matrix.kind, matrix.name) if matrix.name else None,
        lambda matrix: (matrix.kind, matrix.rows_shared),
    )


def crossings(matrix: Matrix) -> list[CellKey]:
    """Return every crossing of a matrix, fitted or not."""
    rows, columns = matrix.size
    return [CellKey(matrix.id, row, column) for row, column in product(range(1, rows + 1), range(1, columns + 1))]


def lines_in(matrix: Matrix) -> list[LineKey]:
    """Return every row and column of a matrix, shared or not."""
    rows, columns = matrix.size
    return [LineKey(matrix.id, "column", place) for place in range(1, columns + 1)] + [
        LineKey(matrix.id, "row", place) for place in range(1, rows + 1)
    ]


def _cells(one: Matrix, other: Matrix) -> Pairs[CellKey]:
    fitted = _paired(
        one.fitted, other.fitted, lambda cell: cell.number, lambda cell: " ".join(cell.name.casefold().split())
    )
    pairs = [(cell.key, its.key) for cell, its in fitted]
    taken, given = {key for key, _ in pairs}, {key for _, key in pairs}
    rest = [key for key in crossings(one) if key not in taken]
    free = [key for key in crossings(other) if key not in given]
    return pairs + _paired(rest, free, lambda key: (key.row, key.column))


def _lines(one: Matrix, other: Matrix, cells: Pairs[CellKey]) -> Pairs[LineKey]:
    """Return the lines that are the same: each has most of the other's cells, or else the other's place."""
    at = {cell.key: cell for matrix in (one, other) for cell in matrix.fitted}
    counts: Counter[tuple[LineKey, LineKey]] = Counter()
    for key, its in cells:
        if key in at and its in at:
            counts[at[key].row_line, at[its].row_line] += 1
            counts[at[key].column_line, at[its].column_line] += 1
    best = _best(counts)
    rest = [line for line in lines_in(one) if line not in {line for line, _ in best}]
    free = [line for line in lines_in(other) if line not in {line for _, line in best}]
    return best + _paired(rest, free, lambda line: (line.side, line.place))


def _best(counts: Counter[tuple[LineKey, LineKey]]) -> Pairs[LineKey]:
    """Return the pairs that have more cells in common than either line has with any other."""
    ours: dict[LineKey, list[int]] = {}
    theirs: dict[LineKey, list[int]] = {}
    for (line, its), count in counts.items():
        ours.setdefault(line, []).append(count)
        theirs.setdefault(its, []).append(count)

    def is_best(count: int, among: list[int]) -> bool:
        return count == max(among) and among.count(count) == 1

    return [pair for pair, count in counts.items() if is_best(count, ours[pair[0]]) and is_best(count, theirs[pair[1]])]


def _paired(
    old: Iterable[Thing], new: Iterable[Thing], *keys: Callable[[Thing], Hashable | None]
) -> list[tuple[Thing, Thing]]:
    """Return pairs of things that one key after the other says are the same, where just one of each has it."""
    pairs: list[tuple[Thing, Thing]] = []
    left, free = list(old), list(new)
    for key in keys:
        ours, theirs = _single(left, key), _single(free, key)
        both = [each for each in ours if each in theirs]
        pairs += [(ours[each], theirs[each]) for each in both]
        gone = {id(one) for pair in pairs for one in pair}
        left = [one for one in left if id(one) not in gone]
        free = [one for one in free if id(one) not in gone]
    return pairs


def _single(things: Sequence[Thing], key: Callable[[Thing], Hashable | None]) -> dict[Hashable, Thing]:
    """Return the things by a key that no other of them has."""
    counts = Counter(key(one) for one in things)
    return {each: one for one in things if (each := key(one)) is not None and counts[each] == 1}
