"""A matrix as blocks that fit on paper: rows and columns with their heads, measured before they are drawn."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import accumulate, pairwise
from typing import NamedTuple

from msgspec import Struct

from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.report.drawing.cell_texts import CellText, TextOf
from matrixcheck.report.drawing.lettering import width_of, wrapped
from matrixcheck.report.drawing.line_heads import LineHead, line_head

HEAD_WIDTH = 190
CELL_WIDTH = 208
PAD = 11
TITLE_SIZE, SUBTITLE_SIZE = 28, 22
LABEL_SIZE, FACT_SIZE = 28, 20
NUMBER_SIZE, WORD_SIZE, NAME_SIZE, REMARK_SIZE = 27, 21, 24, 21
"""Sizes of letters; 24 are 6.8 points."""
NAME_LINES, REMARK_LINES, LABEL_LINES = 4, 3, 3
LEADING = 1.08
GAP = 40
"""White between blocks."""
CAPTION = (3 * TITLE_SIZE + 2 * SUBTITLE_SIZE) * 1.15 + 2 * PAD
"""What the caption of a part takes of the height, reckoned amply."""
WHOLE = 0.6
"""The share of a page up to which a matrix stays in one piece; a higher one is cut so that two parts fit a page."""
NEARLY = 0.85
"""The share of the room that a part of a matrix takes at most on average: some rows are higher than others."""
TALL = 8
"""Rows beyond which a matrix of few columns is set in parts side by side."""


class Caption(NamedTuple):
    """What a block is called, and a sentence below that."""

    title: str
    says: str


class Written(NamedTuple):
    """A cell's text broken into lines; `beside` when the name starts on the line of the number."""

    text: CellText
    name: tuple[str, ...]
    remarks: tuple[str, ...]
    beside: bool

    @property
    def height(self) -> float:
        """Return the height that the lines need, white above and below included."""
        first = max(NUMBER_SIZE, len(self.name) * NAME_SIZE) if self.beside else NUMBER_SIZE
        names = 0 if self.beside else len(self.name) * NAME_SIZE
        return (first + names + len(self.remarks) * REMARK_SIZE) * LEADING + 2 * PAD


class Room(NamedTuple):
    """The room for blocks: none is wider or higher; more than `tall` rows are set side by side where they fit.

    `head` and `cell` are the widths of row heads and cells.
    """

    width: int
    height: int
    tall: int = TALL
    head: int = HEAD_WIDTH
    cell: int = CELL_WIDTH

    def needs(self, columns: int) -> int:
        """Return the width of a block of so many columns."""
        return self.head + self.cell * columns


class GridBlock(Struct, frozen=True, dict=True):
    """Some rows and columns of a matrix with their heads, ready to be drawn. Lengths are in tenths of a millimetre."""

    title: tuple[str, ...]
    says: tuple[str, ...]
    rows: tuple[LineHead, ...]
    columns: tuple[LineHead, ...]
    cells: tuple[tuple[Written | None, ...], ...]
    head_width: int
    cell_width: int

    @property
    def width(self) -> int:
        """Return the width, that of the row heads included."""
        return self.head_width + self.cell_width * len(self.columns)

    @property
    def caption_height(self) -> float:
        """Return the height of what stands above the grid."""
        return (len(self.title) * TITLE_SIZE + len(self.says) * SUBTITLE_SIZE) * 1.15 + 2 * PAD

    @property
    def head_height(self) -> float:
        """Return the height of the column heads."""
        return _head_height(self.columns, self.cell_width)

    @cached_property
    def row_heights(self) -> tuple[float, ...]:
        """Return the height of each row."""
        return tuple(
            _row_height(head, cells, self.head_width) for head, cells in zip(self.rows, self.cells, strict=True)
        )

    @property
    def grid_height(self) -> float:
        """Return the height below the caption."""
        return self.head_height + sum(self.row_heights)


def blocks_of(matrix: Matrix, text_of: TextOf, caption: Caption, room: Room) -> tuple[tuple[GridBlock, ...], ...]:
    """Return a matrix in blocks that fit the room; those of one group belong side by side."""
    written = {cell.key: _written(text_of(cell), room.cell) for cell in matrix.fitted}
    rows, columns = ([line_head(line) for line in side] for side in (matrix.rows, matrix.columns))
    across = max((room.width - room.head) // room.cell, 1)
    found: list[tuple[GridBlock, ...]] = []
    for right in _runs(len(columns), across):
        grid = [[written.get(CellKey(matrix.id, row + 1, column + 1)) for column in right] for row in range(len(rows))]
        heads = tuple(columns[column] for column in right)
        parts: list[GridBlock] = []
        for down in _rows_together(rows, grid, heads, room):
            whole = len(right) == len(columns) and len(down) == len(rows)
            title = caption.title if whole else f"{caption.title}: {_part_words(down, right, rows, columns)}"
            says = caption.says if not (found or parts) else ""
            wide = room.needs(len(heads))
            parts.append(
                GridBlock(
                    wrapped(title, wide, TITLE_SIZE, 3, bold=True),
                    wrapped(says, wide, SUBTITLE_SIZE, 4),
                    tuple(rows[row] for row in down),
                    heads,
                    tuple(tuple(grid[row]) for row in down),
                    room.head,
                    room.cell,
                )
            )
        found.append(tuple(parts))
    return tuple(found)


def _runs(count: int, most: int) -> Iterator[range]:
    """Yield runs of at most that many, as equal as they can be."""
    parts = -(-count // most)
    for part in range(parts):
        yield range(count * part // parts, count * (part + 1) // parts)


def _rows_together(
    rows: Sequence[LineHead],
    grid: Sequence[Sequence[Written | None]],
    columns: Sequence[LineHead],
    room: Room,
) -> list[range]:
    """Return the rows of each block of one run of columns: side by side where few columns leave room, else pages."""
    side_by_side = (room.width + GAP) // (room.needs(len(columns)) + GAP)
    heights = [_row_height(head, cells, room.head) for head, cells in zip(rows, grid, strict=True)]
    taken = CAPTION + _head_height(columns, room.cell)
    if side_by_side > 1 and len(rows) > room.tall:
        parts = math.ceil(len(rows) / max(room.tall, math.ceil(len(rows) / side_by_side)))
    else:
        whole = sum(heights) <= WHOLE * room.height
        parts = 1 if whole else math.ceil(sum(heights) / (room.height / 2 - GAP - taken))
    return _cut_up(heights, max(parts, math.ceil(sum(heights) / (NEARLY * (room.height - taken)))))


def _cut_up(heights: Sequence[float], parts: int) -> list[range]:
    """Return the rows in so many parts that are about as high as each other."""
    below = list(accumulate(heights))
    ends = [bisect_left(below, below[-1] * part / parts - heights[-1] / 2) + 1 for part in range(1, parts)]
    starts = sorted({0, *ends})
    return [range(start, end) for start, end in pairwise([*starts, len(heights)]) if start < end]


def _head_height(columns: Sequence[LineHead], width: int) -> float:
    lines = (
        len(column_label(head, width)) * LABEL_SIZE + len(column_facts(head, width)) * FACT_SIZE for head in columns
    )
    return max(lines) * LEADING + 2 * PAD


def _row_height(head: LineHead, cells: Sequence[Written | None], width: int) -> float:
    labels = len(row_label(head, width)) * LABEL_SIZE
    facts = max(len(row_facts(head, width)) * FACT_SIZE, labels) * LEADING + 2 * PAD
    return max([facts, *(cell.height for cell in cells if cell)])


def row_label(head: LineHead, width: int) -> tuple[str, ...]:
    """Return the label of a row in lines beside its facts."""
    return wrapped(head.label, label_width(head, width), LABEL_SIZE, LABEL_LINES, bold=True)


def column_label(head: LineHead, width: int) -> tuple[str, ...]:
    """Return the label of a column in lines above its facts."""
    return wrapped(head.label, width - 2 * PAD, LABEL_SIZE, LABEL_LINES, bold=True)


def row_facts(head: LineHead, width: int) -> tuple[str, ...]:
    """Return the facts of a row's head in lines beside its label."""
    return _fact_lines(head, width - 2 * PAD - label_width(head, width))


def column_facts(head: LineHead, width: int) -> tuple[str, ...]:
    """Return the facts of a column's head in lines below its label."""
    return _fact_lines(head, width - 2 * PAD)


def _fact_lines(head: LineHead, room: float) -> tuple[str, ...]:
    """Return facts, several on a line where they fit."""
    lines: list[str] = []
    for fact in head.facts:
        joined = f"{lines[-1]} {fact}" if lines else fact
        if lines and width_of(joined, FACT_SIZE) <= room:
            lines[-1] = joined
        else:
            lines.append(fact)
    return tuple(lines)


def is_cut(name: str) -> bool:
    """Return whether a name is too long for a cell."""
    return wrapped(name, CELL_WIDTH - 2 * PAD, NAME_SIZE, NAME_LINES) != wrapped(
        name, CELL_WIDTH - 2 * PAD, NAME_SIZE, len(name)
    )


def label_width(head: LineHead, width: int) -> float:
    """Return the width that the label of a row's head takes, at most half of it."""
    return min(width_of(head.label, LABEL_SIZE, bold=True) + PAD, width / 2)


def _written(text: CellText, width: int) -> Written:
    room = width - 2 * PAD
    number = width_of(text.number, NUMBER_SIZE, bold=True) + PAD
    remarks = tuple(line for each in text.remarks for line in wrapped(each, room, REMARK_SIZE, 2))[:REMARK_LINES]
    beside = not text.word and number < room / 2
    name = wrapped(text.name, room - number if beside else room, NAME_SIZE, NAME_LINES)
    return Written(text, name, remarks, beside)


def _part_words(down: range, right: range, rows: Sequence[LineHead], columns: Sequence[LineHead]) -> str:
    said = []
    for run, heads, noun in ((down, rows, "row"), (right, columns, "column")):
        if len(run) < len(heads):
            first, last = heads[run.start].label, heads[run.stop - 1].label
            said.append(f"{noun} {first}" if len(run) == 1 else f"{noun}s {first} to {last}")
    return ", ".join(said)
