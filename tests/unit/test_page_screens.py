"""What the pages of a job show: in words and signs, from what the journal says."""

from __future__ import annotations

import pytest
from report_case import DIAGNOSIS, EVENTS, LAYOUT, START, state_after

from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Mark
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.record.events import JobOpened, Noted, Recorded, RoundStarted, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay
from matrixcheck.record.strikes import strike_of
from matrixcheck.record.summary import log_lines
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.model import STILL_LOOKING
from matrixcheck.report.safety_asked import SIGNS
from matrixcheck.web.page.answers import Found
from matrixcheck.web.page.screens.answer import FAILED, brief_of, card_screen, places_at_hand
from matrixcheck.web.page.screens.cell import cell_screen
from matrixcheck.web.page.screens.functions import functions_screen
from matrixcheck.web.page.screens.grid import Place, grid_of
from matrixcheck.web.page.screens.head import head_of
from matrixcheck.web.page.screens.history import AT_ONCE, history_screen, strike_screen
from matrixcheck.web.page.screens.job import job_screen
from matrixcheck.web.page.screens.later import LONGEST_QUERY, later_screen, round_address
from matrixcheck.web.page.screens.repair import repair_screen
from matrixcheck.web.page.screens.safety import safety_screen


@pytest.fixture(scope="module")
def state() -> JobState:
    """The small machine after its evening."""
    return state_after(*EVENTS)


WORKED_OUT = DIAGNOSIS.model_copy(
    update={"checks": tuple(one.model_copy(update={"hazard": "mains"}) for one in DIAGNOSIS.checks)}
)


def found_of(state: JobState, *, whole: bool = True) -> Found:
    """What is known of the evening: its worked-out diagnosis."""
    return Found(state.seq, WORKED_OUT, answer_of_job(WORKED_OUT, state, looking=not whole), whole)


def places(state: JobState, matrix: str = "switches") -> dict[str, Place]:
    grid = grid_of(state.id, LAYOUT.matrix(matrix), state.standings)
    return {one.number: one for _, row in grid.rows for one in row if one is not None}


def test_a_grid_has_a_place_for_every_device_and_none_elsewhere(state: JobState) -> None:
    grid = grid_of(state.id, LAYOUT.matrix("switches"), state.standings)
    assert [[one.number if one else None for one in row] for _, row in grid.rows] == [
        ["1", "4", "7", None],
        ["2", "5", "8", "11"],
        ["3", "6", None, "12"],
    ]
    assert [head.label for head in grid.columns] == ["1", "2", "3", "4"]
    assert grid.columns[0].says == "column 1, GN/BN"


def test_a_cell_says_in_words_all_that_its_signs_say(state: JobState) -> None:
    shown = places(state)
    assert shown["4"].says == "4 pond 1: dead"
    assert (shown["4"].mark, shown["4"].glyph) == ("dead", "✗")
    assert shown["6"].says == "6 pond 3: untested, later"
    assert shown["6"].signs == "."
    assert shown["8"].says == "8 reed bank: untested, test again"
    assert shown["8"].signs.startswith("↻")
    assert shown["4"].href == f"/job/{state.id}/cell/switches/r1c2"


def test_what_was_not_tested_is_never_shown_as_good(state: JobState) -> None:
    for number, one in places(state).items():
        standing = next(each for each in state.standings.values() if str(each.cell.number) == number)
        assert (one.mark == "working") is (standing.mark is Mark.WORKING)
        assert (one.glyph == "✓") is (standing.mark is Mark.WORKING)


def test_the_cells_of_a_fault_are_lit_by_what_they_say_of_it(state: JobState) -> None:
    found = found_of(state)
    number = next(one.number for one in found.answer.cards if one.suspect == "s1")
    card = card_screen(state, number, found)
    (grid,) = card.grids
    lit = {one.number: one.light for _, row in grid.rows for one in row if one and one.light}
    assert lit == {"4": "◆", "5": "◆", "6": "?"}
    assert [step.code for group in card.groups for step in group.steps] == ["driver-short.Q2"]
    assert "Q2" in [one.place for one in places_at_hand(state, found_of(state))]


def test_an_answer_that_is_not_there_yet_or_failed_says_so_and_shows_no_card(state: JobState) -> None:
    assert brief_of(Found(state.seq)).says == (STILL_LOOKING,)
    assert brief_of(Found(state.seq)).looking
    assert brief_of(Found(state.seq, failed=True)).says == (FAILED,)
    assert not brief_of(Found(state.seq, failed=True)).looking
    assert card_screen(state, 1, Found(state.seq)).card is None
    gone = card_screen(state, 99, found_of(state))
    assert (gone.card, gone.says) == (None, "The answer has no card 99 now.")


def test_the_answer_in_short_has_every_card_with_its_number_and_how_sure_it_is(state: JobState) -> None:
    brief = brief_of(found_of(state))
    answer = answer_of_job(DIAGNOSIS, state)
    assert [(one.number, one.title) for one in brief.cards] == [(one.number, one.title) for one in answer.cards]
    assert all(one.sure for one in brief.cards)
    assert brief.next_test.startswith(answer.next[0].words)
    assert brief_of(found_of(state, whole=False)).looking


def test_a_failed_check_stands_at_the_head_of_every_page(state: JobState) -> None:
    assert head_of(state).dangers == ("! safety check FAILED: mains lead (sheath cut)",)
    assert not head_of(state).stop


def test_a_job_leads_to_all_its_parts_with_what_waits_there(state: JobState) -> None:
    screen = job_screen(state, found_of(state), ())
    ways = {one.name: one for one in screen.ways}
    assert ways["Before power"].urgent
    assert "1 FAILED" in ways["Before power"].says
    assert ways["The later list"].says == "6 to test, 1 again"
    assert ways["History"].says == f"{len(EVENTS)} entries"
    assert [one.grid.id for one in screen.matrices] == ["switches", "doors"]
    assert screen.matrices[0].coverage == "5 of 10 tested, 5 untested"
    assert [one.round_words for one in screen.matrices] == ["", ""]


def test_an_open_round_can_be_gone_on_with() -> None:
    state = state_after(*EVENTS, RoundStarted(matrix="switches", round="walk", manner="paced"))
    switches, doors = job_screen(state, found_of(state), ()).matrices
    assert (switches.round, switches.round_words) == ("timed", "Go on with the timed walk")
    assert doors.round == ""


def test_what_a_strike_takes_along_is_asked_before(state: JobState) -> None:
    number = len(EVENTS) - 1  # the repair of one switch
    screen = strike_screen(state, log_lines(state.everything)[number - 1], strike_of(state, number))
    assert screen.question.startswith("Strike it out? repair: switch 8 (reed bank)")
    assert screen.takes_along == "It changes how 1 cell of switches stand."


def test_every_check_has_its_sign_and_those_that_are_measured_ask_for_it(state: JobState) -> None:
    screen = safety_screen(state, EarthLimit.PLUS_LEAD)
    checks = {one.item: one for one in screen.checks}
    assert {one.outcome: one.sign for one in screen.checks} == {
        outcome: SIGNS[outcome] for outcome in ("open", "passed", "failed")
    }
    assert checks["mains lead"].says.startswith("FAILED")
    assert checks["insulation"].unit == "megohms"
    assert checks["earth bond"].earth
    assert "metres" in checks["earth bond"].hint
    assert "metres" not in next(one for one in safety_screen(state, EarthLimit.FLAT).checks if one.earth).hint
    assert checks["mains voltage"].unit == ""


def test_the_lists_of_the_test_mode_begin_untested(state: JobState) -> None:
    screen = functions_screen(state)
    lines = [line for one in screen.lists for line in one.lines]
    assert {line.says for line in lines} == {"not tested"}
    assert {line.sign for line in lines} == {"∙"}
    assert len({line.id for line in lines}) == len(lines)


def test_a_group_of_the_later_list_leads_into_a_round_through_just_its_cells(state: JobState) -> None:
    screen = later_screen(state)
    assert screen.groups[0].href == f"/job/{state.id}/switches/rounds?cells=r2c3"
    assert screen.groups[0].name.startswith("test again")


def test_a_round_through_a_whole_matrix_names_no_cell_and_no_address_is_too_long(state: JobState) -> None:
    every = [cell.key for cell in LAYOUT.matrix("switches").fitted]
    assert round_address(state, "switches", every) == f"/job/{state.id}/switches/rounds"
    large = parse_layout(
        f'format = 1\nname = "Large"\n[[matrix]]\nid = "large"\nkind = "switch"\ncells = {[["x"] * 40] * 40}',
        "large.toml",
    )
    state = replay([Recorded(1, "pond", 1, START, JobOpened(name="large", layout=large))])
    cells = [cell.key for cell in large.matrix("large").fitted]
    assert LONGEST_QUERY < len(round_address(state, "large", cells[1:])) < LONGEST_QUERY + 100


def test_a_repair_says_what_a_name_means_and_leads_into_its_retest(state: JobState) -> None:
    screen = repair_screen(state, "Q2", False, ())
    assert screen.meant == "Q2. Cells behind it: 3 of switches."
    assert not screen.wrong
    assert repair_screen(state, "Q99", False, ()).wrong
    assert repair_screen(state, "belt", True, ()).meant.startswith("belt, outside the layout")
    (made,) = screen.made
    assert (made.place, made.said) == ("switch 8 (reed bank)", "new leaf")
    assert [one.href for one in made.retests] == [f"/job/{state.id}/switches/rounds?cells=r2c3"]


def test_a_cell_shows_what_was_recorded_of_it_newest_first(state: JobState) -> None:
    screen = cell_screen(state, LAYOUT.matrix("switches").by_number[8])
    assert (screen.standing, screen.mark) == ("untested", "untested")
    assert [one.says for one in screen.seen] == ["switch 8 (reed bank) working", "switch 8 (reed bank) stuck; 3.5 ohms"]
    assert [one.text for one in screen.verbs] == ["8", "8-", "8*"]
    assert "Q2" in [one.place for one in cell_screen(state, LAYOUT.matrix("switches").by_number[4]).places]


def test_the_history_comes_in_pages_and_steers_only_what_an_undo_may_withdraw() -> None:
    notes = [Noted(text=f"note {number}") for number in range(AT_ONCE + 5)]
    state = state_after(EVENTS[0], *notes, Withdrawn(batch=3))
    lines = log_lines(state.everything)
    first = history_screen(state, lines)
    assert [one.number for one in first.entries] == list(range(len(lines), len(lines) - AT_ONCE, -1))
    second = history_screen(state, lines, first.older)
    assert second.older == 0
    assert [one.number for one in (*first.entries, *second.entries)] == list(range(len(lines), 0, -1))
    by_number = {one.number: one for one in (*first.entries, *second.entries)}
    assert by_number[3].undone
    assert by_number[3].may
    assert not by_number[1].may
    assert not by_number[len(lines)].may
