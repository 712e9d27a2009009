"""Names found by a few of their letters."""

from __future__ import annotations

import pytest

from matrixcheck.tui.text.search import alike

NAMES = ["left outlane", "right outlane", "lighthouse entry", "ball trough 1", "gull bumper left", "start button"]


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("out", "left outlane"),
        ("ri", "right outlane"),
        ("ligh", "lighthouse entry"),
        ("ball t", "ball trough 1"),
        ("bump", "gull bumper left"),
        ("gul lef", "gull bumper left"),
        ("LEFT OUT", "left outlane"),
        ("lighthuose", "lighthouse entry"),
        ("strat", "start button"),
    ],
)
def test_a_few_letters_or_a_slip_find_the_name(typed: str, first: str) -> None:
    assert NAMES[alike(typed, NAMES, 3)[0]] == first


@pytest.mark.parametrize("typed", ["", "  ", "?!", "xqzw"])
def test_what_is_like_no_name_finds_none(typed: str) -> None:
    assert alike(typed, NAMES, 3) == ()


def test_no_more_are_given_than_asked_for() -> None:
    assert len(alike("l", NAMES, 2)) == 2
