"""Typing numbers with letters: what is typed has one meaning, whatever numbers a matrix has."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from msgspec.structs import replace

from matrixcheck.errors import InputError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.numbering import parse_number
from matrixcheck.layout.places import CellKey
from matrixcheck.record.entry import Entry, Verb, format_entries, parse_entries, parse_places
from tests.signal_box import SWITCHES, at

SHORT = st.text("AB1-", min_size=1, max_size=4).map(parse_number).filter(lambda number: number not in (None, 0))


def matrix_of(numbers: list[int | str]) -> Matrix:
    """Make a matrix of one row with these numbers, all of them fitted."""
    return replace(
        SWITCHES, numbers=(tuple(numbers),), cells=(tuple("lamp post" for _ in numbers),), walk=(), columns=(), rows=()
    )


def meanings(word: str, numbers: list[int | str]) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Split a word in every way that the notation allows, knowing nothing but the numbers that there are.

    Yields the number, the sign, and the numbers behind it.
    """
    spelt = {str(number): str(number) for number in numbers}
    for at_hand in spelt:
        rest = word.upper().removeprefix(at_hand) if word.upper().startswith(at_hand) else None
        if rest is None:
            continue
        if rest in ("", "-", "*", "."):
            yield at_hand, rest, ()
        if re.fullmatch("=[0-9]+([.][0-9]+)?", rest):
            yield at_hand, "=", ()
        if rest[:1] in ("+", "/"):
            others = tuple(rest[1:].split("+"))
            if set(others) <= spelt.keys() - {at_hand} and len(set(others)) == len(others):
                yield at_hand, rest[0], others


@pytest.mark.parametrize(
    ("text", "entry"),
    [
        ("9L", Entry(at(2, 1), Verb.WORKING)),
        ("9l-", Entry(at(2, 1), Verb.DEAD)),
        ("9L+2", Entry(at(2, 1), Verb.ECHO, (at(2, 2),))),
        ("2/9r+A-3", Entry(at(2, 2), Verb.MISREPORT, (at(3, 1), at(1, 3)))),
        ("A-3", Entry(at(1, 3), Verb.WORKING)),
        ("a-3-", Entry(at(1, 3), Verb.DEAD)),
        ("A-", Entry(at(3, 2), Verb.DEAD)),
        ("a-3+-", Entry(at(1, 3), Verb.UNSTEADY)),
        ("A+-", Entry(at(3, 2), Verb.UNSTEADY)),
        ("a", Entry(at(3, 2), Verb.WORKING)),
        ("d1*", Entry(at(1, 2), Verb.STUCK)),
        ("D10.", Entry(at(2, 3), Verb.LATER)),
        ("D1=4.1", Entry(at(1, 2), Verb.OHMS, ohms=4.1)),
        ("10", Entry(at(1, 1), Verb.WORKING)),
        ("r2c1-", Entry(at(2, 1), Verb.DEAD)),
    ],
)
def test_each_form_of_an_entry_takes_a_number_with_letters_in_either_case(text: str, entry: Entry) -> None:
    assert parse_entries(text, SWITCHES) == (entry,)


def test_a_line_of_the_matrix_is_never_a_number() -> None:
    assert [entry.cell for entry in parse_entries("c3-", SWITCHES)] == [at(1, 3), at(2, 3)]


def test_a_list_of_places_takes_numbers_with_letters() -> None:
    assert parse_places("9l 2 A-3 r3c3", SWITCHES) == (at(2, 1), at(2, 2), at(1, 3), at(3, 3))


@pytest.mark.parametrize(
    ("text", "message", "hint"),
    [
        ("9X", "'9X': switches has no 9X", "near it are 9L, 9R, 10, A"),
        ("9", "'9': switches has no 9", "near it are 2, 10"),
        ("D2", "'D2': switches has no D2", "near it are A, A-3, D1, D10"),
        ("2-9L", "'2-9L': switches has no 2-9L", "for 2 dead and then 9L leave a blank: 2- 9L"),
        ("A--3", "can't read 'A--3'", "blanks between entries"),
        ("9LL+R", "'9LL+R': switches has no 9LL", "near it are 2, 9L, 9R, 10"),
        ("ABCDEFGHI", "can't read 'ABCDEFGHI'", "blanks between entries"),
        ("A-" + "3" * 900, "can't read", "blanks between entries"),
        ("2" * 900, "switches has no 222", "its places go from r1c1 to r3c3"),
    ],
)
def test_a_number_that_the_matrix_lacks_is_refused_with_what_to_do(text: str, message: str, hint: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_entries(text, SWITCHES)
    assert message in caught.value.message
    assert caught.value.hint.endswith(hint)
    assert len(str(caught.value)) < 250


def _tried(text: str, matrix: Matrix) -> tuple[Entry, ...] | InputError:
    try:
        return parse_entries(text, matrix)
    except InputError as refusal:
        return refusal


@st.composite
def _words(draw: st.DrawFn) -> tuple[list[int | str], str]:
    numbers = draw(st.lists(SHORT, unique=True, min_size=1, max_size=6))
    pieces = st.sampled_from([*map(str, numbers), *"-+/*.", "=1", "1"])
    return numbers, draw(st.lists(pieces, min_size=1, max_size=5).map("".join) | st.text("AaBb1-+/*.=", min_size=1))


@given(_words())
@example((["A", 3, "A-3"], "A-3"))
@example((["A", "A-1"], "A-1-"))
@example((["A", 1], "A-1"))
@example((["1-1", 1, 11], "1-1+11+1"))
def test_a_word_is_taken_only_if_it_has_one_meaning_and_then_as_that(case: tuple[list[int | str], str]) -> None:
    numbers, word = case
    matrix = matrix_of(numbers)
    possible = list(meanings(word, numbers))
    assert len(possible) <= 1
    result = _tried(word, matrix)
    if isinstance(result, InputError):
        assert not possible
        return
    ((number, sign, others),) = possible
    (entry,) = result
    assert str(matrix.by_key[entry.cell].number) == number
    assert entry.verb == sign
    assert tuple(str(matrix.by_key[other].number) for other in entry.others) == others


@st.composite
def _lines(draw: st.DrawFn) -> tuple[Matrix, tuple[Entry, ...]]:
    numbers = draw(st.lists(SHORT | st.integers(1, 30), unique=True, min_size=2, max_size=8))
    matrix = matrix_of(numbers)
    places = [CellKey(matrix.id, 1, column) for column in range(1, len(numbers) + 1)]
    entries = []
    for cell in draw(st.lists(st.sampled_from(places), unique=True, min_size=1)):
        verb = draw(st.sampled_from(Verb))
        some = st.lists(st.sampled_from([key for key in places if key != cell]), unique=True, min_size=1, max_size=3)
        others = tuple(draw(some)) if verb in (Verb.ECHO, Verb.MISREPORT) else ()
        entries.append(Entry(cell, verb, others, 4.25 if verb is Verb.OHMS else None))
    return matrix, tuple(entries)


@given(_lines(), st.booleans())
def test_reading_what_was_written_gives_the_same_entries(case: tuple[Matrix, tuple[Entry, ...]], low: bool) -> None:
    matrix, entries = case
    written = format_entries(entries, matrix)
    assert parse_entries(written.lower() if low else written, matrix) == entries


@given(st.lists(SHORT, unique=True, min_size=1, max_size=6), st.text(max_size=30))
def test_any_text_gives_entries_or_one_line_of_refusal(numbers: list[int | str], text: str) -> None:
    result = _tried(text, matrix_of(numbers))
    assert result
    if isinstance(result, InputError):
        assert result.message
        assert "\n" not in str(result)
