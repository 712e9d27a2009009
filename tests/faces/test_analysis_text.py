"""What the screens say of a diagnosis: suspects first, and how far the search went."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from pilots import column_three, silent, with_hold

from matrixcheck.diagnosis.result import Diagnosis, Explanation, Searched
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.tui.screens.grid_screen import PANE
from matrixcheck.tui.text.analysis import analysis_of
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.text.suspects import Entry, entries

LAYOUT = read_layout(find_layout("saltmarsh-tram"))
CUT_OFF = Searched(exact=False, seconds=1.0)


def test_where_there_are_suspects_they_are_the_list_and_only_the_limits_are_said_above() -> None:
    assert analysis_of(column_three(), LAYOUT).verdict == ""
    analysis = analysis_of(with_hold().model_copy(update={"searched": CUT_OFF}), LAYOUT)
    assert analysis.first == "How much was not searched is unknown: another cause may be likelier."
    assert analysis.verdict == ""
    assert [heading for heading, _ in analysis.groups] == ["Best explanation, 90 %", "One device only"]


def test_without_suspects_one_sentence_sums_it_up() -> None:
    analysis = analysis_of(silent(), LAYOUT)
    assert analysis.groups == ()
    assert analysis.verdict.startswith("No")


def words(entry: Entry) -> str:
    """An entry in one line."""
    return " ".join(plain(entry.rows).split())


def test_in_little_room_a_suspect_is_told_in_three_lines_until_it_is_chosen_and_then_in_full() -> None:
    analysis = analysis_of(column_three(), LAYOUT)
    says = analysis.suspects[0].says
    unchosen, chosen = (entries(analysis, one, 30, 0, False)[0] for one in (None, "s1"))
    assert len(unchosen.rows) == 5
    assert words(unchosen).endswith("…")
    assert says not in words(unchosen)
    assert says in words(chosen)


def test_where_there_is_room_suspects_are_told_in_full_the_likeliest_first() -> None:
    analysis = analysis_of(column_three(), LAYOUT)
    first, second = entries(analysis, None, 22, 100, False)
    assert analysis.suspects[0].says in words(first)
    assert analysis.suspects[1].says in words(second)
    least = sum(len(entry.rows) for entry in entries(analysis, None, 22, 0, False))
    first, second = entries(analysis, None, 22, least + 1, False)
    assert [len(entry.rows) for entry in (first, second)] == [6, 5]


@given(
    st.sampled_from([column_three(), with_hold(), silent()]),
    st.sampled_from([None, "s1", "s2"]),
    st.integers(12, 60),
    st.integers(0, 40),
    st.booleans(),
)
def test_suspects_take_no_more_than_the_room_unless_they_need_it(
    diagnosis: Diagnosis, chosen: str | None, width: int, height: int, brief: bool
) -> None:
    analysis = analysis_of(diagnosis, LAYOUT)
    used, least = (
        sum(len(entry.rows) for entry in entries(analysis, chosen, width, room, brief)) for room in (height, 0)
    )
    assert least <= used <= max(height, least)


def test_in_very_little_room_only_the_chosen_suspect_takes_more_than_a_line() -> None:
    analysis = analysis_of(column_three(), LAYOUT)
    assert [len(entry.rows) for entry in entries(analysis, None, 37, 2, True)] == [1, 1]
    first, second = entries(analysis, "s1", 37, 2, True)
    assert analysis.suspects[0].says in words(first)
    assert len(second.rows) == 1
    assert sum(len(entry.rows) for entry in entries(analysis, None, 37, 5, True)) == 5


def test_every_heading_has_room_beside_the_narrowest_wide_grid() -> None:
    certain = column_three().model_copy(update={"explanations": (Explanation(probability=1.0, suspects=("s1", "s2")),)})
    headings = [heading for heading, _ in analysis_of(certain, LAYOUT).groups]
    assert headings[0] == "Best explanation, over 99 %"
    assert max(map(len, headings)) <= PANE - 3
