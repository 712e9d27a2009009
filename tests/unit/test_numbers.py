"""Numbers as the machine shows them: how they read, how they sort, and what a layout may give."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.layout.files import check_layout, layout_from
from matrixcheck.layout.frozen import from_json, to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.numbering import natural_order, nearest_number, parse_number, read_number
from matrixcheck.layout.places import parse_cell, parse_line
from matrixcheck.layout.schema import layout_schema
from tests.signal_box import LAMPS, LAYOUT, SIGNAL_BOX, SWITCHES, at

PARTS = st.text("ABCDRCLXYZ019", min_size=1, max_size=4)
WRITTEN = st.lists(PARTS, min_size=1, max_size=3).map("-".join)
NUMBERS = st.integers(1, 999_999) | WRITTEN.map(parse_number).filter(lambda number: number not in (None, 0))


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("24", 24),
        ("024", 24),
        ("9L", "9L"),
        ("9l", "9L"),
        ("A-3", "A-3"),
        ("1-2", "1-2"),
        ("c-3", "C-3"),
        ("R2A", "R2A"),
    ],
)
def test_a_text_is_kept_in_capitals_and_digits_alone_as_an_integer(text: str, number: int | str) -> None:
    assert read_number(text) == number
    assert type(read_number(text)) is type(number)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "letters A to Z"),
        ("9 L", "letters A to Z"),
        ("-3", "letters A to Z"),
        ("A-", "letters A to Z"),
        ("A--3", "letters A to Z"),
        ("A_3", "letters A to Z"),
        ("9Ł", "letters A to Z"),
        ("ß", "letters A to Z"),
        ("\u017f", "letters A to Z"),
        ("٣", "letters A to Z"),
        ("ABCDEFGHI", "it has 9 characters"),
        ("1000000", "between 1 and 999999"),
        ("c3", "put a hyphen in, as in C-3"),
        ("C03", "put a hyphen in, as in C-03"),
        ("r2", "put a hyphen in, as in R-2"),
        ("R2C3", "put a hyphen in, as in R-2C3"),
    ],
)
def test_what_is_no_number_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(ValueError, match=re.escape(reason)):
        read_number(text)
    assert parse_number(text) is None


@given(st.text(max_size=12) | WRITTEN)
def test_a_number_reads_the_same_in_either_case_and_never_like_a_line_or_a_place(text: str) -> None:
    number = parse_number(text)
    if number is None:
        return
    written = str(number)
    assert len(written) <= 8
    assert read_number(written) == read_number(written.lower()) == number
    for typed in (written, written.lower()):
        assert parse_line(typed, "m") is parse_cell(typed, "m") is None


@pytest.mark.parametrize(("text", "meant"), [("9 L", "9-L"), (" a_3.", "A-3"), ("-7", "7"), ("c3", None), ("?", None)])
def test_a_misspelt_number_is_answered_with_the_nearest_that_reads(text: str, meant: str | None) -> None:
    assert nearest_number(text) == meant


def test_numbers_are_sorted_as_people_count() -> None:
    rising = [2, 9, "9L", "9R", 10, "10A", "A", "A-3", "A-10", "D1", "D2", "D10", "DA"]
    assert sorted(sorted(rising, key=str), key=natural_order) == rising


@given(st.lists(NUMBERS, unique=True))
def test_the_order_of_numbers_leaves_no_two_equal_and_plain_ones_by_value(numbers: list[int | str]) -> None:
    assert len({natural_order(number) for number in numbers}) == len(numbers)
    ordered = sorted(numbers, key=natural_order)
    assert sorted(sorted(numbers, key=str), key=natural_order) == ordered
    plain = [number for number in ordered if isinstance(number, int)]
    assert plain == sorted(plain)


def test_a_layout_gives_its_numbers_in_every_place_that_holds_one() -> None:
    assert [cell.number for cell in SWITCHES.fitted] == [2, "9L", "9R", 10, "A", "A-3", "D1", "D10"]
    assert [cell.number for cell in SWITCHES.in_walk_order][:3] == ["9L", "9R", 2]
    assert [cell.number for cell in SWITCHES.cells_of(SWITCHES.by_number[10].column_line)] == ["9R", 10, "9L"]
    assert SWITCHES.by_number["9L"].notes.reach == "ball"
    assert SWITCHES.by_number["A-3"].notes.rest == "closed"


def test_a_place_without_a_number_has_none_whether_0_or_nothing_is_listed() -> None:
    assert SWITCHES.number_at(3, 3) is None
    assert LAMPS.number_at(2, 1) is None
    assert at(3, 3) not in SWITCHES.by_key


def test_a_layout_with_such_numbers_comes_back_from_json_as_it_was() -> None:
    assert from_json(Layout, to_json(LAYOUT)) == LAYOUT
    assert layout_from(json.loads(to_json(LAYOUT)), "again") == LAYOUT


LETTERS = "use letters A to Z, digits and single hyphens, as in 9L or A-3"
SLIPS = [
    ('"9R", "A", ""', '"9l", "A", ""', "8: matrix[1].numbers[3][1]: is 9L again: r2c1 has that number already"),
    ('"9R", "A", ""', '"9R", "010", ""', "8: matrix[1].numbers[3][2]: is 10 again: r1c1 has that number already"),
    (
        '["9L", 2,',
        '["c3", 2,',
        "8: matrix[1].numbers[2][1]: 'c3' is not a cell number: typed, it names a line or a place; "
        "put a hyphen in, as in C-3",
    ),
    (
        '"D10"]',
        '"D 10"]',
        f"8: matrix[1].numbers[2][3]: 'D 10' is not a cell number: {LETTERS}; did you mean 'D-10'?",
    ),
    (
        '"D10"]',
        "1.5]",
        "8: matrix[1].numbers[2][3]: needs a whole number, or a text in quotes such as '9L', not 1.5",
    ),
    (
        '"9R", "A", ""',
        '"9R", "", ""',
        "8: matrix[1].numbers[3][2]: is empty, but 'apron' is fitted there: give its number",
    ),
    ('"9l", "9R"]', '"9l", "9L"]', "9: matrix[1].walk[2]: names 9L twice"),
    ('"9l", "9R"]', '"9l", "9X"]', "9: matrix[1].walk[2]: names '9X', a number that this grid doesn't have"),
    ('"9l", "9R"]', '"9l", ""]', f"9: matrix[1].walk[2]: '' is not a cell number: {LETTERS}"),
    (
        '["9r", 10, "9L"]',
        '["9r", 10]',
        "14: matrix[1].column[1].chain: leaves out 9L: name every fitted cell of the line, or none",
    ),
    (
        '["9r", 10, "9L"]',
        '["9r", 10, "9L", "A"]',
        "14: matrix[1].column[1].chain[4]: names A, which is r3c2 and not on column 1",
    ),
    (
        "[matrix.cell.A-3]",
        "[matrix.cell.9L]",
        "25: matrix[1].cell.9L: is cell 9L again: write its notes once, under 9L",
    ),
    (
        "[matrix.cell.A-3]",
        "[matrix.cell.c3]",
        "25: matrix[1].cell.c3: is not a cell number: write [matrix.cell.12] for cell 12, [matrix.cell.9L] for 9L",
    ),
]


@pytest.mark.parametrize(("old", "new", "expected"), SLIPS)
def test_one_slip_with_a_number_is_named_once_with_its_line_and_what_to_do(tmp_path, old, new, expected) -> None:
    path = tmp_path / "box.toml"
    assert SIGNAL_BOX.count(old) == 1
    path.write_text(SIGNAL_BOX.replace(old, new))
    found = [str(problem).removeprefix(f"{path}:") for problem in check_layout(path)]
    key = expected.split(": ")[1]
    assert [line for line in found if line.split(": ")[1] == key] == [expected]


@given(st.text("ACRL09-c ", max_size=9) | WRITTEN)
def test_the_schema_takes_the_texts_that_the_program_takes(text: str) -> None:
    matrix = json.loads(layout_schema())["$defs"]["Matrix"]["properties"]
    pattern = matrix["walk"]["items"]["anyOf"][1]["pattern"]
    if not text.isdecimal():
        assert (re.search(pattern, text) is not None) is (parse_number(text) is not None)
    assert re.search(matrix["numbers"]["items"]["items"]["anyOf"][1]["pattern"], "")
