"""Keys for numbers with letters: what begins one, what a keypad shows, what is meant by what is typed."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from matrixcheck.layout.model import Matrix
from matrixcheck.tui.text.figures import WIDTH, figures
from matrixcheck.tui.text.keys import Cap, placed
from matrixcheck.tui.text.number_keys import (
    FEW,
    goes_on,
    is_command,
    keypad,
    letter_keys,
    means_numbers,
    speaks_on,
    with_enter,
)
from tests.signal_box import COILS, LAMPS, SWITCHES

DIGITS = ("789-⌫", "456*.", "123+/", "0=~")
MANY: Matrix = replace(
    SWITCHES, numbers=(tuple(f"{letter}1" for letter in "ABDEFGHIJKL"),), cells=(("lamp post",) * 11,), walk=(), rows=()
)


def test_the_letters_of_a_matrix_are_those_of_its_numbers() -> None:
    assert SWITCHES.letters == ("A", "D", "L", "R")
    assert SWITCHES.first_letters == frozenset("ad")
    assert COILS.letters == ()
    assert COILS.first_letters == frozenset()


def test_a_letter_is_a_command_unless_it_is_a_number_itself() -> None:
    assert is_command("d", SWITCHES)
    assert is_command("D", SWITCHES)
    assert not is_command("a", SWITCHES), "A is the apron"
    assert not is_command("u", SWITCHES)
    assert not is_command("d1", SWITCHES)
    assert not is_command("", SWITCHES)


def test_keys_are_named_as_they_are_pressed() -> None:
    caps = [Cap(key, "does", "action") for key in ("d", "a", "u", "Enter")]
    assert [cap.key for cap in with_enter(caps, SWITCHES)] == ["d Enter", "", "u", "Enter"]
    assert list(with_enter(caps, COILS)) == caps


@given(st.integers(39, 49), st.sampled_from([SWITCHES, LAMPS, COILS, MANY]))
def test_the_digits_of_a_keypad_stand_as_on_any_other_at_every_width(width: int, matrix: Matrix) -> None:
    places = placed([*keypad("".join(DIGITS), matrix), Cap("", "Enter", "keep")], width, tall=True)
    at = {place.cap.word: (place.left, place.top) for place in places}
    for row in DIGITS:
        assert len({at[sign][1] for sign in row}) == 1
    for column in ("7410", "852=", "963~"):
        assert len({at[sign][0] for sign in column}) == 1
    assert max(place.right for place in places) <= width
    assert min(place.right - place.left for place in places) >= 5


@pytest.mark.parametrize("matrix", [SWITCHES, LAMPS, MANY], ids=["switches", "lamps", "many letters"])
def test_every_sign_of_every_number_is_on_the_keypad_or_behind_the_key_that_turns_it(matrix: Matrix) -> None:
    keys = {cap.word for turned in (False, True) for cap in keypad("0123456789-", matrix, turned)}
    assert {sign for cell in matrix.fitted for sign in str(cell.number)} <= keys


def test_many_letters_take_the_place_of_the_digits_and_give_it_back() -> None:
    assert len(MANY.letters) > FEW
    assert [cap.word for cap in letter_keys(MANY)] == ["ABC"]
    assert keypad("12", MANY)[-1].action == keypad("12", MANY, turned=True)[-1].action == "turn_pad"
    assert [cap.word for cap in keypad("12", MANY, turned=True)][:11] == list(MANY.letters)
    assert [cap.word for cap in letter_keys(SWITCHES)] == ["A", "D", "L", "R"]


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("9", "9L left rail, 9R right rail"),
        ("2 9l", ""),
        ("2 d", "D1 upper door, D10 lower door"),
        ("a", "A-3 siding"),
        ("1", ""),
        ("9 ", ""),
        ("", ""),
        ("x", ""),
    ],
)
def test_numbers_that_go_on_as_typed_are_named(text: str, named: str) -> None:
    assert goes_on(text, SWITCHES) == named


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("9x", True),
        ("d2", True),
        ("9x 2", True),
        ("b", True),
        ("gate", False),
        ("door 1", False),
        ("d2-", True),
        ("b*", True),
        ("9x+10", True),
        ("r9c9", True),
        ("gate-", False),
        ("lamppost1", False),
    ],
)
def test_a_slip_in_a_number_is_never_taken_for_a_name(text: str, meant: bool) -> None:
    assert means_numbers(text, SWITCHES) is meant
    assert not means_numbers(text, COILS)


@pytest.mark.parametrize(
    ("text", "speaks"),
    [("-", True), ("*", True), ("+31", True), ("=4.1", True), ("- 31", True), ("-3", False), ("", False)],
)
def test_a_sign_speaks_of_the_cell_at_hand_unless_another_number_came_of_both(text: str, speaks: bool) -> None:
    assert speaks_on(text) is speaks


@given(st.text(string.ascii_uppercase + string.digits + "-", min_size=1, max_size=8))
def test_a_number_is_drawn_in_three_lines_of_three_characters_a_sign(number: str) -> None:
    assert {len(line) for line in figures(number)} == {WIDTH * len(number)}


def test_no_two_signs_are_drawn_alike() -> None:
    assert len({figures(sign) for sign in string.ascii_uppercase + string.digits + "-"}) == 37
