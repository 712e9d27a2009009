"""Charts of any content: read or refused in one line, and no entry of them dropped without a word."""

from __future__ import annotations

import csv
import io
import re
from itertools import count

from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.importing import Imported, import_charts
from matrixcheck.layout.charts.questions import Answers
from matrixcheck.layout.charts.sheets import Sheet, text_sheet
from matrixcheck.layout.charts.understood import understood_lines
from matrixcheck.layout.files import parse_layout

WORDS = [
    "", "", "-", "NOT USED", "Column", "Column 1", "Row", "Row 2", "Wire", "GRN-BRN", "GR-BL", "vert/brun",
    "Driver", "Q1", "Q-2", "J1-1", "J1 pin 2", "U5-3", "Plug pin", "No.", "Name", "Switch", "Lamp", "Coil", "Sol.",
    "Side", "A", "B", "1", "2", "11", "12", "21", "22", "24 gate", "31 left outlane", "9L bell", "A-3", "spare",
    "Fuse", "F2", "Feed", "Ohms", "4.2", "String", "Lamps", "left, right", "Relay", "K1", "closed", "At rest",
    "Location", "common", "Rating", "4 A T", "1 WHT-BRN J2-1", "Column 1, YE-BN, J7-1, Q20", '"', "c3", "0",
    "999999999999", "flash lamp", "Device",
]  # fmt: skip
tables = st.lists(st.lists(st.sampled_from(WORDS), min_size=1, max_size=6), min_size=1, max_size=7)


def text_of(rows: list[list[str]]) -> str:
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()


def taken_or_refused(sheet: Sheet) -> Imported | None:
    try:
        found = import_charts([sheet], None, Answers({}), "made.toml")
    except InputError:
        return None
    if not found.problems:
        parse_layout(found.text, "made")
    list(understood_lines(found, 78))
    return found


@given(st.text())
def test_any_text_is_taken_or_refused(text: str) -> None:
    try:
        sheet = text_sheet(text, "any")
    except InputError:
        return
    taken_or_refused(sheet)


@given(tables)
@settings(max_examples=120)
def test_any_table_of_the_words_of_charts_is_taken_or_refused(rows: list[list[str]]) -> None:
    taken_or_refused(Sheet("any", tuple(map(tuple, rows))))


@st.composite
def damaged_charts(draw: st.DrawFn) -> list[list[str]]:
    """A grid or a list as manuals print it, with some entries replaced by words that nobody expects."""
    columns, rows = draw(st.integers(1, 4)), draw(st.integers(1, 4))
    fresh = count(1)
    if draw(st.booleans()):
        table = [["", *(f"Column {place}" for place in range(1, columns + 1))]]
        table += [["Wire", *(["GRN-BRN", "GRN-RED", "GRN-BLK", "GRN-YEL"][:columns])]]
        table += [
            [f"Row {row}", *(f"{column}{row} q{next(fresh)}q" for column in range(1, columns + 1))]
            for row in range(1, rows + 1)
        ]
    else:
        table = [["No.", "Switch", "Column", "Row", "Row wire", "Location"]]
        table += [
            [
                f"{column}{row}",
                f"q{next(fresh)}q",
                f"{column}",
                f"{row}",
                ["red", "brown", "black", "white"][row - 1],
                f"q{next(fresh)}q",
            ]
            for column in range(1, columns + 1)
            for row in range(1, rows + 1)
        ]
    for _ in range(draw(st.integers(0, 3))):
        row = draw(st.integers(0, len(table) - 1))
        column = draw(st.integers(0, len(table[row]) - 1))
        table[row][column] = draw(st.sampled_from([f"q{next(fresh)}q", f"Q7 q{next(fresh)}q", f"24 q{next(fresh)}q"]))
    return [["Switches"], *table]


@given(damaged_charts())
@settings(max_examples=120)
def test_no_word_of_a_chart_is_dropped_in_silence(rows: list[list[str]]) -> None:
    found = taken_or_refused(text_sheet(text_of(rows), "any"))
    if found is None:
        return
    said = (found.text + "\n".join(understood_lines(found, 10_000))).casefold()
    words = {word for row in rows for entry in row for word in re.findall(r"q\d+q", entry)}
    assert {word for word in words if word not in said} == set()
