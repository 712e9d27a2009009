"""Texts broken into lines, the same on screen and on paper."""

from __future__ import annotations

import pytest

from matrixcheck.report.words import lines_of


@pytest.mark.parametrize("width", [12, 13, 40])
def test_a_text_that_fits_is_one_line_as_it_is(width: int) -> None:
    assert lines_of("-5 at 12 % · ", width) == ["-5 at 12 % ·"]


def test_what_stands_before_a_text_takes_room_on_its_line() -> None:
    assert lines_of("one two", 9, first="> ", hang="  ") == ["> one two"]
    assert lines_of("one two", 8, first="> ", hang="  ") == ["> one", "  two"]


@pytest.mark.parametrize(
    ("text", "lines"), [("", []), ("  ", []), ("one\ntwo", ["one two"]), ("one\ttwo", ["one     two"])]
)
def test_blanks_alone_are_no_line_and_a_break_within_a_text_is_a_blank(text: str, lines: list[str]) -> None:
    assert lines_of(text, 40) == lines
