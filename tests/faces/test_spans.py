"""Lines that don't fit say so."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.tui.text.spans import Row, changed, fitted, plain, row, shortened, wrapped


def test_a_line_that_fits_stays_as_it_is() -> None:
    spans: Row = (("tram", "title"), ("  stop", "quiet"))
    assert fitted(spans, 10) == spans


def test_blanks_at_the_end_are_no_text_that_is_lost() -> None:
    spans: Row = (("tram   ", "title"),)
    assert fitted(spans, 4) == spans


@given(st.lists(st.text("ab ", max_size=9), max_size=4), st.integers(1, 30))
def test_what_is_cut_ends_in_an_ellipsis_and_fills_the_width(parts: list[str], width: int) -> None:
    spans: Row = tuple((part, "plain") for part in parts)
    text = "".join(parts)
    shown = "".join(part for part, _ in fitted(spans, width))
    if len(text.rstrip()) <= width:
        assert shown == text
    else:
        assert shown == text[: width - 1] + "…"


ROWS = st.lists(st.tuples(st.text("ab ", max_size=5), st.sampled_from(["plain", "quiet"])), max_size=4).map(tuple)


@given(ROWS, ROWS)
def test_two_lines_differ_in_the_last_place_of_what_changed_and_nowhere_behind_it(old: Row, new: Row) -> None:
    before, after = ([(sign, tone) for text, tone in spans for sign in text] for spans in (old, new))
    end = changed(old, new)
    assert before[end:] == after[end:]
    assert end == 0 or before[end - 1 : end] != after[end - 1 : end]


def test_a_text_of_too_many_lines_ends_in_an_ellipsis_within_its_width() -> None:
    rows = shortened(wrapped("one two three four five six seven eight", 12), 2)
    assert plain(rows) == "one two\nthree …"
    assert shortened((row("one"), row("two")), 2) == (row("one"), row("two"))
