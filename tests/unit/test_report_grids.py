"""Grids as text: complete at every width, each line within it."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_case import EVENTS, LAYOUT, state_after

from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import JobOpened
from matrixcheck.record.summary import LaterItem
from matrixcheck.report import glyphs
from matrixcheck.report.grids import grid_lines, squares_of
from matrixcheck.report.later import UNKNOWN_REACH, by_reach

STATE = state_after(*EVENTS)


def _text(lines: object) -> list[str]:
    return ["".join(span.text for span in line).rstrip() for line in lines]  # type: ignore[attr-defined]


@given(width=st.integers(min_value=30, max_value=200))
def test_every_cell_is_in_the_grid_once_at_every_width_and_no_line_is_longer(width: int) -> None:
    for matrix in LAYOUT.matrices:
        lines = list(grid_lines(matrix, STATE.standings, width))
        assert max(map(len, _text(lines))) <= width
        marked = [span for line in lines for span in line if span.mark is not None]
        assert len(marked) == len(matrix.fitted)
        counts = {mark: sum(span.mark is mark for span in marked) for mark in Mark}
        standings = [STATE.standings[cell.key].mark for cell in matrix.fitted]
        assert counts == {mark: standings.count(mark) for mark in Mark}


@given(rows=st.integers(1, 20), columns=st.integers(1, 20), width=st.integers(40, 120))
def test_a_wide_matrix_goes_on_below_itself(rows: int, columns: int, width: int) -> None:
    names = [[f"cell {row} {column}" for column in range(columns)] for row in range(rows)]
    layout = parse_layout(
        f'format = 1\nname = "wide"\n[[matrix]]\nid = "m"\nkind = "lamp"\ncells = {names}'.replace("'", '"'), "wide"
    )
    state = state_after(JobOpened(name="wide", layout=layout))
    lines = list(grid_lines(layout.matrices[0], state.standings, width))
    assert sum(span.mark is not None for line in lines for span in line) == rows * columns
    assert max(map(len, _text(lines))) <= width


def test_names_stand_beside_the_marks_where_there_is_room_for_them() -> None:
    matrix = LAYOUT.matrix("doors")
    assert any("coin door" in line for line in _text(grid_lines(matrix, STATE.standings, 80)))
    assert not any("pond" in line for line in _text(grid_lines(LAYOUT.matrix("switches"), STATE.standings, 36)))


def test_squares_stand_where_the_layout_has_them() -> None:
    squares = squares_of(LAYOUT.matrix("switches"), STATE.standings)
    assert squares[0][3] is None
    assert squares[2][3] is not None
    assert squares[2][3].cell.number == 12


@pytest.mark.parametrize(
    "sign",
    [
        *glyphs.GLYPHS.values(), *glyphs.LETTERS.values(), glyphs.ECHOED, glyphs.INSTEAD, glyphs.DEFERRED,
        glyphs.RETEST_DUE, glyphs.INTERMITTENT, glyphs.FAINT,
    ],
)  # fmt: skip
def test_every_glyph_is_one_column_wide_in_every_terminal(sign: str) -> None:
    """East Asian width from the Unicode Character Database, as Python carries it: neutral or narrow, not ambiguous."""
    assert len(sign) == 1
    assert unicodedata.east_asian_width(sign) in ("N", "Na")


reaches = st.sampled_from(["hand", "ball", "door open", "glass off", "playfield up", "", "ladder"])


@given(st.lists(reaches))
def test_the_later_list_keeps_every_item_and_goes_from_the_least_to_the_most_effort(given_reaches: list[str]) -> None:
    cell = LAYOUT.matrix("switches").fitted[0]
    items = [LaterItem(cell.key, place, "x", reach, "untested") for place, reach in enumerate(given_reaches)]
    groups = by_reach(items)
    assert sorted(item.number for group in groups for item in group.items) == list(range(len(items)))
    order = [group.reach for group in groups]
    known = ["hand", "ball", "door open", "glass off", "playfield up", "ladder", UNKNOWN_REACH]
    assert order == [reach for reach in known if reach in order]
    assert len(set(order)) == len(order)
