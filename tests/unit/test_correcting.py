"""What the form that puts a layout right takes: only what was changed, and a chain as it is met along the wire."""

from __future__ import annotations

import random

import pytest
from drawn_layouts import layouts
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.edit.keys import Change, Key, value_at
from matrixcheck.layout.edit.meaning import with_changes
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.tui.text.correcting import (
    FAR_END,
    WALKED_FROM,
    chain_words,
    changes_of,
    sheets_of,
    walked,
)
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
COLUMN = LineKey("switches", "column", 2)
CHAIN = Key(COLUMN, "chain")
CELL = TRAM.matrix("switches").by_number[23]
SHEETS = sheets_of(CELL, TRAM)


def words_of(kind: str, number: int) -> list[str]:
    matrix = next(one for one in TRAM.matrices if one.id == kind)
    return [field.word for field in sheets_of(matrix.by_number[number], TRAM)[0].fields]


def test_a_cell_has_the_fields_of_its_device_and_then_its_lines() -> None:
    assert [sheet.name for sheet in SHEETS] == ["switch 23 (right inlane)", "switch column 2", "switch row 3"]
    assert words_of("switches", 23) == ["name", "number", "zone", "reach", "at rest"]
    assert words_of("lamps", 21) == ["name", "number", "zone", "reach", "fitted"]
    assert words_of("coils", 2)[4:] == ["device", "ohms"]
    assert [field.word for field in SHEETS[1].fields] == [
        "label", "name", "wire", "path", "needs", "chain", "from",
    ]  # fmt: skip


def test_a_row_that_is_no_line_has_no_sheet() -> None:
    lamp = TRAM.matrix("lighting").fitted[0]
    assert [sheet.name for sheet in sheets_of(lamp, TRAM)][1:] == ["lighting string 1"]


@given(layouts(), st.randoms(use_true_random=False))
@settings(max_examples=25)
def test_what_was_not_changed_is_no_change(layout: Layout, draw: random.Random) -> None:
    cells = [cell for matrix in layout.matrices for cell in matrix.fitted]
    if cells:
        sheets = sheets_of(draw.choice(cells), layout)
        typed = {field.key: f" {field.value} " for sheet in sheets for field in sheet.fields}
        assert changes_of(sheets, typed, layout) == []


@pytest.mark.parametrize(
    ("key", "typed", "value"),
    [
        (Key(CELL.key, "name"), "upper lane", "upper lane"),
        (Key(CELL.key, "number"), "9l", "9L"),
        (Key(CELL.key, "zone"), "", ""),
        (Key(CELL.key, "rest"), "closed", "closed"),
        (Key(COLUMN, "wire"), "green-brown", "GN/BN"),
        (Key(COLUMN, "wire"), "", None),
        (Key(COLUMN, "path"), "u1-3, q9 x7-2", ("U1-3", "Q9", "X7-2")),
        (Key(COLUMN, "supply"), "f3", ("F3",)),
        (CHAIN, "28 26 25 27 24 23 21 22", (28, 26, 25, 27, 24, 23, 21, 22)),
        (CHAIN, "", None),
    ],
)
def test_a_value_that_was_typed_is_what_the_layout_then_says(key: Key, typed: str, value: object) -> None:
    (change,) = changes_of(SHEETS, {key: typed}, TRAM)
    assert change.key == key
    assert value_at(with_changes(TRAM, [change]), key) == value


def test_a_walk_from_the_far_end_gives_the_chain_from_the_plug() -> None:
    chain = TRAM.line(COLUMN).chain or ()
    backwards = " ".join(str(number) for number in reversed(chain[:3] + chain[3:]))
    far = Key(COLUMN, WALKED_FROM)
    assert changes_of(SHEETS, {CHAIN: backwards, far: FAR_END}, TRAM) == [Change(CHAIN, list(chain))]
    as_it_stands = " ".join(map(str, chain))
    assert changes_of(SHEETS, {CHAIN: as_it_stands, far: FAR_END}, TRAM) == [Change(CHAIN, list(reversed(chain)))]


def test_a_chain_fills_in_as_the_wire_is_walked() -> None:
    text, left = "", []
    for number in (22, 21, 23, 24, 27, 25, 26):
        found = walked(CHAIN, f"{text}{number}", TRAM)
        text, left = found.text, [*left, found.says]
    assert left[0] == "left: 21, 23, 24, 25, 26, 27, 28"
    assert left[5] == "left: 26, 28"
    assert (text, found.whole) == ("22 21 23 24 27 25 26 28", True)
    assert left[6].startswith("28 was left")


def test_what_is_left_is_said_of_whole_numbers_only() -> None:
    assert chain_words(CHAIN, "22 2", TRAM) == "left: 21, 23, 24, 25, 26, 27, 28"
    assert chain_words(CHAIN, "22 99 ", TRAM).startswith("! '99' is not on switch column 2")


def test_a_number_that_is_not_on_the_wire_or_was_met_is_refused() -> None:
    for text in ("22 31", "22 22"):
        with pytest.raises(UsageError):
            walked(CHAIN, text, TRAM)


def test_a_chain_that_lacks_numbers_and_a_device_without_a_name_are_refused() -> None:
    with pytest.raises(InputError, match="chain of switch column 2 lacks 23, 24, 25, 26 and 2 more"):
        changes_of(SHEETS, {CHAIN: "22 21"}, TRAM)
    with pytest.raises(InputError, match="needs a name"):
        changes_of(SHEETS, {Key(CELL.key, "name"): "  "}, TRAM)
    assert changes_of(SHEETS, {Key(COLUMN, "name"): ""}, TRAM) == []


def test_all_that_was_changed_on_any_sheet_comes_together() -> None:
    row = LineKey("switches", "row", 3)
    typed = {Key(row, "wire"): "WH/BK", Key(CELL.key, "zone"): "top"}
    assert changes_of(SHEETS, typed, TRAM) == [
        Change(Key(CellKey("switches", 3, 2), "zone"), "top"),
        Change(Key(row, "wire"), "WH/BK"),
    ]
