"""What the screens say of a diagnosis: suspects first, and how far the search went."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from pilots import column_three, silent, with_hold

from matrixcheck.diagnosis.result import Diagnosis, Searched
from matrixcheck.report.answer.build import answer_of
from matrixcheck.tui.text.analysis import analysis_of
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.text.suspects import Analysis, Entry, Listed, entries
from tests.machines import saltmarsh_tram

LAYOUT = saltmarsh_tram()
CUT_OFF = Searched(exact=False, seconds=1.0)


def shown(diagnosis: Diagnosis) -> Analysis:
    """The answer to no readings at all, as the screens show it."""
    return analysis_of(diagnosis, answer_of(diagnosis, LAYOUT, ()))


def test_the_headline_stands_above_the_cards_and_what_the_search_left_out_before_it() -> None:
    cut = with_hold().model_copy(update={"searched": CUT_OFF})
    assert shown(cut).unfinished == "Unknown how much is left: a likelier cause may exist."
    assert shown(with_hold()).unfinished == ""
    assert len(shown(cut).headline) == 1
    assert [card.title for card in shown(cut).cards] == [
        "Switch column 3 is open",
        "Switch 14 (ball trough 4) is dead",
    ]


def test_without_suspects_one_sentence_sums_it_up() -> None:
    analysis = shown(silent())
    assert analysis.cards == ()
    assert analysis.headline == ("Nothing is tested yet. 169 cells untested.",)


def test_the_cards_of_the_matrix_on_the_screen_come_first_and_keep_their_numbers() -> None:
    analysis = shown(column_three())
    lamps = Listed(None, 3, "Lamp column 5 stays on", "near certain", (), matrices=("lamps",))
    danger = Listed(None, 4, "Safety check failed: mains lead", "recorded", (), dangerous=True)
    mixed = analysis._replace(cards=(*analysis.cards, lamps, danger))
    assert [card.number for card in mixed.on_screen_of("lamps").cards] == [4, 3, 1, 2]
    assert [card.number for card in mixed.on_screen_of("lamps").on_screen_of("switches").cards] == [4, 1, 2, 3]


def words(entry: Entry) -> str:
    """An entry in one line."""
    return " ".join(plain(entry.rows).split())


def words_of(card: Listed) -> str:
    """A card in one line."""
    return " ".join([f"{card.number} {card.title}", *card.says])


def test_in_little_room_a_suspect_is_told_by_its_title_and_how_sure_until_it_is_chosen_and_then_in_full() -> None:
    analysis = shown(column_three())
    says = words_of(analysis.cards[0])
    unchosen, chosen = (entries(analysis, one, 30, 0, False)[0] for one in (None, "s1"))
    assert words(unchosen) == "1 Switch column 3 is open likely, 94 %"
    assert says in words(chosen)


def test_where_there_is_room_suspects_are_told_in_full_the_likeliest_first() -> None:
    analysis = shown(column_three())
    first, second = entries(analysis, None, 22, 100, False)
    assert words_of(analysis.cards[0]) in words(first)
    assert words_of(analysis.cards[1]) in words(second)
    least = [len(entry.rows) for entry in entries(analysis, None, 22, 0, False)]
    first, second = entries(analysis, None, 22, sum(least) + 4, False)
    assert [len(entry.rows) - fewest for entry, fewest in zip((first, second), least, strict=True)] == [3, 1]
    assert words(first).endswith("…")
    assert not first.rows[-1]


def test_no_title_of_a_suspect_is_cut_and_no_blank_line_takes_the_room_of_one() -> None:
    analysis = shown(column_three())
    for width in (22, 30, 37, 58):
        told = entries(analysis, None, width, 0, False)
        for entry, card in zip(told, analysis.cards, strict=True):
            assert words(entry) == f"{card.number} {card.title} {card.sure}"
            assert all(entry.rows)


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
    analysis = shown(diagnosis)
    used, least = (
        sum(len(entry.rows) for entry in entries(analysis, chosen, width, room, brief)) for room in (height, 0)
    )
    assert least <= used <= max(height, least)


def test_in_very_little_room_only_the_chosen_suspect_takes_more_than_a_line() -> None:
    analysis = shown(column_three())
    assert [len(entry.rows) for entry in entries(analysis, None, 37, 2, True)] == [1, 1]
    first, second = entries(analysis, "s1", 37, 2, True)
    assert words_of(analysis.cards[0]) in words(first)
    assert len(second.rows) == 1
    assert sum(len(entry.rows) for entry in entries(analysis, None, 37, 5, True)) == 5
