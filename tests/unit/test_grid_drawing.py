"""Drawn grids: every cell and head there, nothing wider than its room, every block on the paper."""

from __future__ import annotations

import re
from html import unescape

import pytest
from drawn_machines import machines
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.report.drawing.arrange import GAP, Shelf, pages_of, shelves_of
from matrixcheck.report.drawing.cell_texts import as_built
from matrixcheck.report.drawing.grid_blocks import (
    CELL_WIDTH,
    NAME_SIZE,
    PAD,
    Caption,
    GridBlock,
    Room,
    blocks_of,
)
from matrixcheck.report.drawing.lettering import ELLIPSIS, cut, width_of, wrapped
from matrixcheck.report.drawing.line_heads import line_head
from matrixcheck.report.drawing.paper import PAPERS, Paper
from matrixcheck.report.drawing.svg import svg
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
PAPER = pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)


@given(st.text(max_size=80), st.integers(1, 6), st.floats(40, 400))
def test_a_text_breaks_into_lines_that_fit_and_loses_nothing_without_a_sign(text: str, most: int, room: float) -> None:
    lines = wrapped(text, room, 20, most)
    assert len(lines) <= most
    assert all(width_of(line, 20) <= room + 1e-6 for line in lines)
    kept = "".join("".join(lines).split())
    whole = "".join(text.split())
    assert kept == whole or (kept.endswith(ELLIPSIS) and whole.startswith(kept.rstrip(ELLIPSIS)))


@given(st.text(max_size=60), st.floats(25, 300))
def test_a_text_that_is_cut_fits_and_says_so(text: str, room: float) -> None:
    short = cut(text, room, 20)
    assert width_of(short, 20) <= room
    assert short == text or short.endswith(ELLIPSIS)


def blocks(layout: Layout, paper: Paper) -> list[tuple[GridBlock, ...]]:
    room = Room(paper.width, paper.height)
    return [
        group
        for matrix in layout.matrices
        for group in blocks_of(matrix, as_built, Caption(matrix.name or matrix.id, "a sentence"), room)
    ]


@PAPER
@given(layout=machines())
def test_every_fitted_cell_is_drawn_once_and_every_block_lies_on_the_paper(paper: Paper, layout: Layout) -> None:
    groups = blocks(layout, paper)
    drawn = [cell.text for group in groups for block in group for row in block.cells for cell in row if cell]
    assert sorted(drawn) == sorted(as_built(cell) for matrix in layout.matrices for cell in matrix.fitted)
    shelves = shelves_of(groups, paper.width)
    assert sum(len(shelf.blocks) for shelf in shelves) == sum(map(len, groups))
    pages = pages_of(shelves, paper.height, paper.height / 2)
    assert sum(map(len, pages)) == len(shelves)
    assert all(shelf.width <= paper.width for shelf in shelves)
    assert all(sum(shelf.height + GAP for shelf in page) <= paper.height for page in pages)
    assert all(pages[1:])


def large(rows: int, columns: int, wordy: int = 1) -> Layout:
    name = "lamp of row {} and column {} " * wordy
    cells = [[name.format(*[row, column] * wordy).strip() for column in range(columns)] for row in range(rows)]
    return parse_layout(f'format = 1\nname = "Invented"\n[[matrix]]\nid = "big"\nkind = "lamp"\ncells = {cells}\n', "x")


@PAPER
@pytest.mark.parametrize("size", [(64, 64), (64, 1), (1, 64), (16, 8), (40, 2), (64, 2, 3), (64, 3, 4), (20, 8, 4)])
def test_matrices_of_any_size_are_cut_up_with_their_heads(size: tuple[int, ...], paper: Paper) -> None:
    layout = large(*size)
    groups = blocks(layout, paper)
    assert sum(cell is not None for group in groups for block in group for row in block.cells for cell in row) == (
        size[0] * size[1]
    )
    for group in groups:
        for block in group:
            assert block.width <= paper.width
            assert Shelf((block,)).height <= paper.height
            assert len(block.cells) == len(block.rows)
            assert {len(row) for row in block.cells} == {len(block.columns)}
    pages = pages_of(shelves_of(groups, paper.width), paper.height, paper.height)
    full = [sum(shelf.height for shelf in page) / paper.height for page in pages]
    assert all(share > 0.6 for share in full[:-1])
    parts = [len(block.rows) for group in groups for block in group]
    assert max(parts) - min(parts) <= 4


def texts(layout: Layout, paper: Paper) -> list[str]:
    shelves = shelves_of(blocks(layout, paper), paper.width)
    drawn = "".join(svg(shelf, paper.width, paper.width) for shelf in shelves)
    return [unescape(text) for text in re.findall(r">([^<]+)</text>", drawn)]


def test_heads_print_number_wire_plug_and_driver() -> None:
    column = TRAM.matrix("switches").columns[2]
    assert line_head(column) == ("3", ("GN/OG", "X1-3", "Q3"))
    row = TRAM.matrix("switches").rows[0]
    assert line_head(row) == ("1", ("WH/BN", "X6-1", "U2-1"))
    shown = " ".join(texts(TRAM, PAPERS["a4"]))
    for fact in ("GN/OG", "X1-3", "Q3", "WH/BN", "X6-1", "U2-1", "K1 at rest", "K1 pulled in", "F7"):
        assert fact in shown


def test_a_line_of_which_nothing_is_known_has_its_number_alone() -> None:
    assert line_head(large(1, 1).matrix("big").columns[0]) == ("1", ())


def test_names_and_numbers_of_the_machine_stand_in_its_cells() -> None:
    shown = texts(TRAM, PAPERS["a4"])
    joined = " ".join(shown)
    for matrix in TRAM.matrices:
        for cell in matrix.fitted:
            assert as_built(cell).number in shown
            assert all(word in joined for word in cell.name.split())


def test_a_name_too_long_for_its_cell_is_cut_with_a_sign() -> None:
    lines = wrapped("a name that goes on and on " * 9, CELL_WIDTH - 2 * PAD, NAME_SIZE, 4)
    assert len(lines) == 4
    assert lines[-1].endswith(ELLIPSIS)
