"""The entry notation: what each entry means, what is refused and how, and that writing it is the inverse of reading."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_case import LAMPS, SWITCHES, at

from matrixcheck.errors import InputError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.entry import Entry, Verb, format_entries, parse_entries, parse_places


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("5", Entry(at(2, 2), Verb.WORKING)),
        ("05", Entry(at(2, 2), Verb.WORKING)),
        ("5-", Entry(at(2, 2), Verb.DEAD)),
        ("5*", Entry(at(2, 2), Verb.STUCK)),
        ("5.", Entry(at(2, 2), Verb.LATER)),
        ("5+8", Entry(at(2, 2), Verb.ECHO, (at(2, 3),))),
        ("5+8+4", Entry(at(2, 2), Verb.ECHO, (at(2, 3), at(1, 2)))),
        ("5/8", Entry(at(2, 2), Verb.MISREPORT, (at(2, 3),))),
        ("5/8+4", Entry(at(2, 2), Verb.MISREPORT, (at(2, 3), at(1, 2)))),
        ("5=4.1", Entry(at(2, 2), Verb.OHMS, ohms=4.1)),
        ("5=4,1", Entry(at(2, 2), Verb.OHMS, ohms=4.1)),
        ("5+-", Entry(at(2, 2), Verb.UNSTEADY)),
        ("r2c2+-", Entry(at(2, 2), Verb.UNSTEADY)),
        ("5=0", Entry(at(2, 2), Verb.OHMS, ohms=0.0)),
        ("r2c2-", Entry(at(2, 2), Verb.DEAD)),
        ("R2C2+r3c4", Entry(at(2, 2), Verb.ECHO, (at(3, 4),))),
    ],
)
def test_each_form_of_an_entry_means_what_the_notation_says(text: str, entry: Entry) -> None:
    assert parse_entries(text, SWITCHES) == (entry,)


def test_a_line_holds_several_entries_in_the_order_typed() -> None:
    entries = parse_entries(" 5  8-\t4. ", SWITCHES)
    assert [(entry.cell, entry.verb) for entry in entries] == [
        (at(2, 2), Verb.WORKING),
        (at(2, 3), Verb.DEAD),
        (at(1, 2), Verb.LATER),
    ]


@pytest.mark.parametrize(("text", "verb"), [("c3", ""), ("c3-", "-"), ("c3*", "*"), ("c3.", "."), ("c3+-", "+-")])
def test_a_line_of_the_matrix_stands_for_its_fitted_cells(text: str, verb: str) -> None:
    assert parse_entries(text, SWITCHES) == (Entry(at(1, 3), Verb(verb)), Entry(at(2, 3), Verb(verb)))


def test_a_row_stands_for_its_fitted_cells() -> None:
    assert [entry.cell for entry in parse_entries("r3-", SWITCHES)] == [at(3, 1), at(3, 2), at(3, 4)]


def test_what_answers_may_be_a_place_where_nothing_is_fitted() -> None:
    assert parse_entries("5+9", SWITCHES)[0].others == (at(3, 3),)


def test_a_place_without_a_number_goes_by_its_address() -> None:
    assert parse_entries("11+r2c3", LAMPS)[0].others == (CellKey("lamps", 2, 3),)
    assert format_entries(parse_entries("11+r2c3", LAMPS), LAMPS) == "11+r2c3"


def test_two_readings_of_one_cell_may_stand_in_one_line_when_they_agree() -> None:
    assert len(parse_entries("5- 5=4.1 5-", SWITCHES)) == 3


REFUSED = [
    ("", "nothing was typed"),
    ("   ", "nothing was typed"),
    ("5x", "can't read '5x'"),
    ("5+", "can't read '5+'"),
    ("5=", "can't read '5='"),
    ("5=4.", "can't read '5=4.'"),
    ("5--", "can't read '5--'"),
    ("5-+", "can't read '5-+'"),
    ("5+-8", "can't read '5+-8'"),
    ("5+8-", "can't read '5+8-'"),
    ("5 5+-", "'5+-' (entry 2 of 2) says of r2c2 something else than before"),
    ("-5", "can't read '-5'"),
    ("\u0665", "can't read"),
    ("5 99", "'99' (entry 2 of 2): switches has no 99"),
    ("0", "'0': switches has no 0"),
    ("9", "'9': nothing is fitted at 9"),
    ("r4c1", "'r4c1': switches has no r4c1"),
    ("r1c4", "'r1c4': nothing is fitted at r1c4"),
    ("c5-", "'c5-': switches has no c5"),
    ("c3+5", "'c3+5': '+' needs one cell"),
    ("c3=5", "'c3=5': '=' needs one cell"),
    ("5+99", "'5+99': switches has no 99"),
    ("5+5", "'5+5' names one cell twice"),
    ("5/8+8", "'5/8+8' names one cell twice"),
    ("5 5-", "'5-' (entry 2 of 2) says of r2c2 something else than before"),
    ("c2- 5", "'5' (entry 2 of 2) says of r2c2 something else than before"),
    ("5" * 20_000, "too long"),
]


@pytest.mark.parametrize(("text", "message"), REFUSED)
def test_a_bad_entry_is_named_with_its_place_in_the_line_and_a_way_out(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_entries(text, SWITCHES)
    assert message in caught.value.message
    assert caught.value.hint
    assert len(str(caught.value)) < 250


@pytest.mark.parametrize(
    ("typed", "near"), [("99", "7, 8, 11, 12"), ("9", "6, 7, 8, 11"), ("0", "1, 2, 3, 4"), ("r9c9", "r1c1 to r3c4")]
)
def test_an_unknown_place_is_answered_with_the_places_near_it(typed: str, near: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_entries(typed, SWITCHES)
    assert caught.value.hint.endswith(near)


def test_a_list_of_places_takes_numbers_and_addresses_once_each() -> None:
    assert parse_places("5 r2c2 9", SWITCHES) == (at(2, 2), at(3, 3))
    assert parse_places(" ", SWITCHES) == ()


@pytest.mark.parametrize("text", ["5-", "c3", "99", "5+8", "x" * 20_000])
def test_a_list_of_places_takes_nothing_else(text: str) -> None:
    with pytest.raises(InputError):
        parse_places(text, SWITCHES)


@st.composite
def _lines(draw: st.DrawFn) -> tuple[Matrix, tuple[Entry, ...]]:
    matrix = draw(st.sampled_from([SWITCHES, LAMPS]))
    rows, columns = matrix.size
    grid = [CellKey(matrix.id, row, column) for row in range(1, rows + 1) for column in range(1, columns + 1)]
    cells = draw(st.lists(st.sampled_from([cell.key for cell in matrix.fitted]), unique=True, min_size=1))
    entries = []
    for cell in cells:
        verb = draw(st.sampled_from(Verb))
        others = st.lists(st.sampled_from([key for key in grid if key != cell]), unique=True, min_size=1, max_size=3)
        entries.append(
            Entry(
                cell,
                verb,
                tuple(draw(others)) if verb in (Verb.ECHO, Verb.MISREPORT) else (),
                draw(st.integers(0, 10**15 - 1)) / 10**6 if verb is Verb.OHMS else None,
            )
        )
    return matrix, tuple(entries)


@given(_lines())
def test_reading_what_was_written_gives_the_same_entries(case: tuple[Matrix, tuple[Entry, ...]]) -> None:
    matrix, entries = case
    assert parse_entries(format_entries(entries, matrix), matrix) == entries


_KEYS = st.text(alphabet="0123456789-*.+/=, rc", max_size=20)


def _tried(text: str) -> tuple[Entry, ...] | InputError:
    try:
        return parse_entries(text, SWITCHES)
    except InputError as refusal:
        return refusal


@given(_KEYS | st.text(max_size=30))
def test_any_text_gives_entries_or_one_line_of_refusal(text: str) -> None:
    result = _tried(text)
    if isinstance(result, InputError):
        assert result.message
        assert "\n" not in str(result)
    else:
        assert result
        assert all(entry.cell in SWITCHES.by_key for entry in result)
