"""What headings of lists say, in the many ways in which manuals write them; and what a fuse is called.

How manuals head their charts is common practice, no source.
"""

from __future__ import annotations

import csv
import io

import pytest

from matrixcheck.layout.charts.importing import Imported, import_charts
from matrixcheck.layout.charts.questions import Answers
from matrixcheck.layout.charts.sheets import text_sheet
from matrixcheck.layout.charts.words import Heading, heading_of
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout

PLUG = [
    "Plug/Pin", "Plug-Pin", "Plug / Pin", "PLUG PIN", "Plug & Pin", "Connector/Pin", "Connector-Pin", "Conn.",
    "Conn. Pin", "Conn Pin", "Conn./Pin", "Conn/Pin", "J-Pin", "J/Pin", "P-Pin", "Jack/Pin", "Header Pin", "Pin No.",
    "Plug no", "Plug #", "Conn#", "Connector pin no.", "Stecker/Pin",
]  # fmt: skip


@pytest.mark.parametrize("text", PLUG)
def test_a_plug_is_known_however_its_heading_is_spelt(text: str) -> None:
    assert heading_of(text) == Heading("plug")


@pytest.mark.parametrize(
    ("text", "due"),
    [
        ("Col Plug/Pin", Heading("plug", "column")),
        ("Row Conn.", Heading("plug", "row")),
        ("Power Conn Pin", Heading("plug", "feed")),
        ("Fuse no.", Heading("fuse")),
        ("Fuse name", Heading("name", "fuse")),
        ("Fuse Rating", Heading("rating", "fuse")),
        ("Name/Function", Heading("name")),
        ("Drive Trans. no.", Heading("driver")),
        ("NO/NC", Heading("rest")),
        ("Switch No.", Heading("number")),
    ],
)
def test_other_headings_keep_what_they_are_of(text: str, due: Heading) -> None:
    assert heading_of(text) == due


@pytest.mark.parametrize("text", ["Wire/Pin", "J", "Part no.", "Note", "/", "left/right"])
def test_what_says_two_things_or_none_is_no_heading(text: str) -> None:
    assert heading_of(text) is None


COILS = """\
Sol. No.,Function,Transistor,{plug},Wire,{fuse},{more}Ohms
1,kicker,Q5,J4-1,BRN-BLK,{f2},{m2}4.2
2,eject,Q6,J4-2,BRN-RED,{f2},{m2}7.5
3,lock post,Q8,J4-3,BRN-ORN,{f3},{m3}11
"""


def imported(**texts: str) -> Imported:
    filled = COILS.format(**{"plug": "Plug", "fuse": "Fuse", "more": "", "m2": "", "m3": ""} | texts)
    assert len({len(row) for row in csv.reader(io.StringIO(filled))}) == 1
    found = import_charts([text_sheet(filled, "coils.csv")], "Reed Organ", Answers({}), "made.toml")
    assert found.problems == ()
    return found


def fuses(layout: Layout) -> dict[str, tuple[str, str]]:
    return {part.ref: (part.name, part.rating) for part in layout.parts if part.ref.startswith("F")}


@pytest.mark.parametrize("plug", PLUG)
def test_a_plug_pin_under_any_such_heading_is_in_the_layout(plug: str) -> None:
    found = imported(plug=plug, f2="F2", f3="F3")
    assert [line.path for line in parse_layout(found.text, "made").matrices[0].rows] == [
        ("Q5", "J4-1"),
        ("Q6", "J4-2"),
        ("Q8", "J4-3"),
    ]
    assert found.decided.left_over == []


def test_a_fuse_has_the_name_that_stands_beside_its_designator() -> None:
    found = imported(f2="F2 (coil supply)", f3="F3 - lock supply")
    assert fuses(parse_layout(found.text, "made")) == {"F2": ("coil supply", ""), "F3": ("lock supply", "")}
    assert found.decided.left_over == []


def test_a_fuse_has_the_name_and_rating_that_columns_of_their_own_give() -> None:
    found = imported(more="Fuse name,Fuse rating,", f2="F2", m2="coil supply,4 A T,", f3="F3", m3="lock supply,2 A,")
    assert fuses(parse_layout(found.text, "made")) == {"F2": ("coil supply", "4 A T"), "F3": ("lock supply", "2 A")}
    assert found.decided.left_over == []


def test_what_reads_as_amperes_is_the_rating_and_no_name() -> None:
    found = imported(f2="F2 (4 A slow)", f3="F3 2.5A")
    assert fuses(parse_layout(found.text, "made")) == {
        "F2": ("feed of coils 1, 2", "4 A slow"),
        "F3": ("feed of coil 3", "2.5A"),
    }


def test_a_fuse_without_a_name_is_called_by_what_it_feeds() -> None:
    found = imported(f2="F2", f3="F2")
    assert fuses(parse_layout(found.text, "made")) == {"F2": ("feed of coils 1 to 3", "")}


def test_two_names_for_one_fuse_are_shown_side_by_side() -> None:
    text = COILS.format(plug="Plug", fuse="Fuse", more="", f2="F2 (coils)", m2="", f3="F2 (lock)", m3="")
    answers = Answers({})
    import_charts([text_sheet(text, "coils.csv")], "Reed Organ", answers, "made.toml")
    (guess,) = [one for one in answers.guesses if one.question.key == "name.F2"]
    assert guess.question.options == ("coils", "lock")
    assert "'coils' (coils.csv, row 2, column F) or 'lock' (coils.csv, row 4, column F)" in guess.question.text
