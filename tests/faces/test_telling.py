"""What the screens say of a diagnosis: suspects first, and how far the search went."""

from __future__ import annotations

from pilots import column_three, silent, with_hold

from matrixcheck.diagnosis.result import Searched
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.text.suspects import entries
from matrixcheck.tui.text.telling import tell

LAYOUT = read_layout(find_layout("saltmarsh-tram"))
CUT_OFF = Searched(exact=False, seconds=1.0)


def test_where_there_are_suspects_they_are_the_list_and_only_the_limits_are_said_beside() -> None:
    assert tell(column_three(), LAYOUT).verdict == ""
    told = tell(with_hold().model_copy(update={"searched": CUT_OFF}), LAYOUT)
    assert told.verdict == "The search was cut off after 1 s."
    assert [heading for heading, _ in told.groups] == ["Most likely together, 90 %", "With a cause of their own"]


def test_without_suspects_one_sentence_sums_it_up() -> None:
    told = tell(silent(), LAYOUT)
    assert told.groups == ()
    assert told.verdict.startswith("No")


def test_a_suspect_is_told_in_three_lines_until_it_is_chosen_and_then_in_full() -> None:
    told = tell(column_three(), LAYOUT)
    says = told.suspects[0].says
    unchosen, chosen = (" ".join(plain(entries(told, one, 30, False)[0].rows).split()) for one in (None, "s1"))
    assert len(entries(told, None, 30, False)[0].rows) == 5
    assert unchosen.endswith("…")
    assert says not in unchosen
    assert says in chosen


def test_in_little_room_only_the_chosen_suspect_takes_more_than_a_line() -> None:
    told = tell(column_three(), LAYOUT)
    assert [len(entry.rows) for entry in entries(told, None, 37, True)] == [1, 1]
    first, second = entries(told, "s1", 37, True)
    assert told.suspects[0].says in " ".join(plain(first.rows).split())
    assert len(second.rows) == 1
