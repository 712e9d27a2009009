"""Whole rounds at the machine, driven by real keys and taps, read back from the journal by a bench of its own."""

from __future__ import annotations

import asyncio
import re

import pytest
from pilots import (
    AT_EACH_SIZE,
    NARROW,
    PHONE,
    CannedBench,
    Clock,
    Machine,
    Run,
    at_sizes,
    column_three,
    silent,
    with_hold,
)

from matrixcheck.diagnosis.advice.bench_checks.by_code import check_named
from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.result import Diagnosis, NextTest
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.model import Kind
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.report.cautions import BY_KIND, INSIDE
from matrixcheck.report.rounds import UNCHECKED
from matrixcheck.tui.screens.all_lit import AllLitScreen
from matrixcheck.tui.screens.hold import HoldScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.screens.timed_walk import TimedWalkScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Picks
from tests.samples import some_of


def at_hand(machine: Machine) -> int | None:
    """The number of the device that the round calls back."""
    screen = machine.app.screen
    assert isinstance(screen, RoundScreen)
    cell = screen.hand()
    return cell.number if cell else None


def standing(machine: Machine, row: int, column: int, matrix: str = "switches") -> object:
    """What the journal says of a cell."""
    return machine.reader().state(machine.job).standings[CellKey(matrix, row, column)]


# Choosing


@pytest.mark.parametrize(
    ("matrix", "sorts", "caution"),
    some_of(
        [
            ("switches", ["roll", "walk", "rest scan", "hold round"], "keep hands and tools off coils"),
            ("lamps", ["walk", "timed walk", "all at once"], "Lamp sockets are live"),
            ("coils", ["walk", "timed walk", "rest scan"], "The solenoid supply can injure"),
            ("inputs", ["roll", "walk", "rest scan"], "keep hands and tools off coils"),
        ],
        2,
    ),
)
async def test_the_rounds_that_suit_a_matrix_are_offered_with_its_caution(
    run: Run, matrix: str, sorts: list[str], caution: str
) -> None:
    async with run(matrix=matrix) as machine:
        await machine.press("g")
        offered = plain(machine.app.screen.query_one(Picks).rows)
        assert re.findall(r"\d ([a-z ]+)", offered) == sorts
        sheet = " ".join(plain(lines.rows) for lines in machine.app.screen.query(Lines))
        assert caution in " ".join(sheet.split())
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.reader().state(machine.job).round is None


@at_sizes(PHONE, slow=[NARROW])
@pytest.mark.parametrize(("matrix", "kind"), [("switches", Kind.SWITCH), ("lamps", Kind.LAMP), ("coils", Kind.COIL)])
async def test_the_whole_caution_is_in_sight_at_every_size(
    run: Run, size: tuple[int, int], matrix: str, kind: Kind
) -> None:
    async with run(size, matrix=matrix) as machine:
        await machine.press("g")
        seen = re.sub(r"-\s+", "-", " ".join(machine.text().split()))
        assert [caution for caution in (BY_KIND[kind], INSIDE, UNCHECKED, "start") if caution not in seen] == []


async def test_the_caution_is_not_repeated_within_the_round(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("21")
        assert "keep hands and tools" not in machine.text()


# Roll


async def test_a_whole_roll_keeps_each_number_and_calls_it_back(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        assert isinstance(machine.app.screen, RollScreen)
        assert machine.reader().state(machine.job).round.kind == "roll"
        for number, left in (("21", 59), ("24", 58), ("31", 57)):
            await machine.type(number)
            assert at_hand(machine) == int(number)
            assert f"{left} left to test" in machine.text()
        assert "kept: 31" in machine.text()
        rest = [cell.number for cell in machine.app.screen.order if cell.number not in {21, 24, 31}]
        await machine.press(*[key for number in rest for key in (*str(number), "enter")])
        assert "None left to test" in machine.text()
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.reader().state(machine.job).round is None
        assert machine.reader().status(machine.job)["switches"].working == 60
        assert "switches 60/60" in machine.text()


async def test_what_was_put_off_in_a_roll_is_taken_up_from_the_later_list_until_nothing_waits(run: Run) -> None:
    async with run(matrix="inputs") as machine:
        await machine.press("g", "1")
        for typed in ("91", "92.", "93", "94", "95.", "96"):
            await machine.type(typed)
        await machine.press("escape", "l")
        assert "door open · inputs · 2" in machine.text()
        await machine.tap("door open · inputs · 2")
        await machine.press("2")
        screen = machine.app.screen
        assert isinstance(screen, WalkScreen)
        assert [cell.number for cell in screen.order] == [92, 95]
        await machine.press("enter", "enter", "minus", "escape", "l")
        assert "inputs" not in machine.text()
        coverage = machine.reader().status(machine.job)["inputs"]
        assert (coverage.working, coverage.dead, coverage.untested) == (5, 1, 0)


async def test_a_number_that_works_already_blinks_and_is_not_kept_again(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("21")
        seq = machine.reader().state(machine.job).seq
        await machine.press("2", "2", "enter")
        await machine.press("2", "1", "enter")
        assert machine.reader().state(machine.job).seq == seq + 1
        assert "works already" in machine.text()
        assert at_hand(machine) == 21


async def test_an_unknown_number_is_refused_and_stays_in_sight(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("99")
        assert "! '99'" in machine.text()
        assert "1 refused: 99" in machine.text()
        assert at_hand(machine) is None


async def test_after_a_refused_number_the_next_one_stands_alone_so_that_nothing_is_lost_with_the_eyes_on_the_ball(
    run: Run,
) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("99")
        await machine.type("24")
        assert machine.mark("r4c2") is Mark.WORKING
        await machine.type("31 99")
        await machine.press("backspace", "backspace")
        await machine.type("32")
        assert machine.mark("r1c3") is Mark.WORKING
        assert machine.mark("r2c3") is Mark.WORKING


async def test_signs_and_echoes_speak_of_the_number_at_hand(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("24")
        await machine.type("+31")
        assert standing(machine, 4, 2).echoed == (CellKey("switches", 1, 3),)
        await machine.type("25/31")
        assert standing(machine, 5, 2).answered_instead == (CellKey("switches", 1, 3),)
        await machine.type("-")
        assert machine.mark("r5c2") is Mark.DEAD


async def test_a_few_letters_find_a_name_and_mark_nothing_before_it_is_called_back(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1", *"lightho")
        assert "Enter takes 51 lighthouse entry" in machine.text()
        await machine.press("tab")
        assert "Enter takes 52 lighthouse step 1" in machine.text()
        await machine.press("enter")
        assert machine.mark("r2c5") is Mark.UNTESTED
        assert at_hand(machine) == 52
        assert "Enter ticks 52 lighthouse step 1" in machine.text()
        await machine.press("enter")
        assert machine.mark("r2c5") is Mark.WORKING
        assert machine.app.screen.query_one(EntryLine).text == ""


async def test_a_number_typed_after_a_name_was_called_back_leaves_that_unmarked(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1", *"lightho", "enter")
        await machine.type("24")
        assert machine.mark("r1c5") is Mark.UNTESTED
        assert machine.mark("r4c2") is Mark.WORKING


async def test_a_number_typed_in_a_walk_marks_that_and_stays_at_the_device_at_hand(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1")
        await machine.type("9-")
        assert machine.mark("r1c2", "lamps") is Mark.DEAD
        assert at_hand(machine) == 1
        await machine.type("1-")
        assert at_hand(machine) == 2


async def test_the_end_of_a_walk_offers_what_was_skipped(run: Run) -> None:
    async with run(matrix="inputs") as machine:
        await machine.press("g", "2", "right", "minus", "minus", "right", "minus", "minus")
        assert "2 skipped" in machine.text()
        await machine.press("enter", "minus", "minus")
        assert machine.reader().status(machine.job)["inputs"].dead == 6
        assert "skipped" not in machine.text()


async def test_backspace_on_an_empty_line_takes_the_last_number_back(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        await machine.type("21")
        await machine.press("backspace")
        assert machine.mark("r1c2") is Mark.UNTESTED
        assert "undone: switch 21" in machine.text()


async def test_the_bell_rings_for_each_number_only_when_it_is_wanted(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    rung: list[int] = []
    async with run() as machine:
        monkeypatch.setattr(machine.app, "bell", lambda: rung.append(1))
        await machine.press("g", "1")
        await machine.type("21")
        assert rung == []
        await machine.press("f2")
        await machine.type("22")
        assert rung == [1]


async def test_a_roll_needs_no_keyboard_on_a_phone(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.tap("round", last=True)
        await machine.tap("1 roll")
        pad = machine.text().split("\n")
        top = next(y for y, line in enumerate(pad) if line.split() == ["7", "8", "9", "-", "⌫"])
        spots = {
            key: (pad[top + 3 * row].index(key), top + 3 * row)
            for row, keys in enumerate(("789-", "456*.", "123+/", "0"))
            for key in keys
        }
        for key in "24":
            await machine.pilot.click(offset=spots[key])
        await machine.settle()
        assert machine.app.screen.query_one(EntryLine).text == "24"
        await machine.tap("Enter", last=True)
        assert machine.mark("r4c2") is Mark.WORKING
        assert at_hand(machine) == 24


# Walk


async def test_a_walk_judges_each_device_with_one_key_and_goes_on(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "enter", "enter", "minus", "asterisk", "full_stop", "right", "enter")
        marks = [machine.mark(f"r{row}c1", "lamps") for row in range(1, 7)]
        assert marks == [Mark.WORKING, Mark.DEAD, Mark.STUCK, Mark.UNTESTED, Mark.UNTESTED, Mark.WORKING]
        assert standing(machine, 4, 1, "lamps").deferred is not None
        assert at_hand(machine) == 7
        await machine.press("left", "left", "minus")
        assert machine.mark("r5c1", "lamps") is Mark.DEAD
        assert at_hand(machine) == 6


async def test_an_echo_typed_in_a_walk_belongs_to_the_device_at_hand(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.press("g", "1")
        await machine.type("+3")
        assert standing(machine, 1, 1, "coils").echoed == (CellKey("coils", 3, 1),)
        assert at_hand(machine) == 2


async def test_what_glows_faintly_is_not_taken_for_the_seconds_of_a_step_that_are_not_known_yet(
    run: Run, clock: Clock
) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2", "tilde")
        assert machine.app.screen.query_one(EntryLine).text == ""
        assert "first the seconds" in machine.text()
        await machine.type("2.5")
        await machine.press("tilde")
        assert machine.app.screen.query_one(EntryLine).text == "~"


async def test_a_lamp_that_glows_faintly_is_kept_with_the_one_that_is_lit(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "tilde")
        await machine.type("9 12")
        kept = standing(machine, 1, 1, "lamps")
        assert kept.mark is Mark.WORKING
        assert kept.faint == (CellKey("lamps", 1, 2), CellKey("lamps", 4, 2))


@AT_EACH_SIZE
async def test_a_flicker_is_typed_in_a_walk_without_its_number_and_goes_on(run: Run, size: tuple[int, int]) -> None:
    async with run(size, matrix="lamps") as machine:
        await machine.press("g", "1", "plus", "minus")
        assert "comes and goes" in machine.text()
        await machine.press("enter")
        screen = machine.app.screen
        assert isinstance(screen, WalkScreen)
        assert screen.place == 1
        assert "comes and goes" in " ".join(machine.text().split())
        standing = machine.reader().state(machine.job).standings[screen.order[0].key]
        assert (standing.mark, standing.intermittent) == (Mark.DEAD, True)
        await machine.press("u")
        assert machine.reader().state(machine.job).standings[screen.order[0].key].mark is Mark.UNTESTED


async def test_undo_in_a_walk_goes_back_to_the_cell_it_concerns(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "enter", "enter", "minus", "u")
        assert machine.mark("r2c1", "lamps") is Mark.UNTESTED
        assert at_hand(machine) == 2


async def test_a_tap_on_the_grid_sets_the_walk_down_there(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1")
        await machine.tap("25 ∙")
        assert at_hand(machine) == 25


async def test_the_end_of_a_walk_says_so_and_marks_nothing_more(run: Run) -> None:
    async with run(matrix="inputs") as machine:
        await machine.press("g", "2", *["enter"] * 7)
        assert "The walk is through." in machine.text()
        seq = machine.reader().state(machine.job).seq
        await machine.press("enter", "minus")
        assert machine.reader().state(machine.job).seq == seq
        await machine.press("left")
        assert at_hand(machine) == 96


# WalkTiming


@pytest.fixture
def clock() -> Clock:
    """A clock that a test moves."""
    return Clock()


async def test_a_timed_walk_presses_only_exceptions(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2", "enter")
        clock.now += 2.0
        await machine.press("enter")
        assert "every 2.0 s" in machine.text()
        assert at_hand(machine) == 2
        clock.now += 2.5
        await machine.until(lambda: at_hand(machine) == 3)
        await machine.press("minus")
        assert machine.mark("r3c1", "lamps") is Mark.DEAD
        clock.now += 2.0
        await machine.until(lambda: at_hand(machine) == 4)
        assert [machine.mark(f"r{row}c1", "lamps") for row in (1, 2, 4)] == [Mark.UNTESTED] * 3
        clock.now += 200.0
        await machine.until(lambda: "not judged" in machine.text())
        assert "59 not judged. Mark them as working?" in machine.text()
        await machine.press("enter")
        coverage = machine.reader().status(machine.job)["lamps"]
        assert (coverage.working, coverage.dead, coverage.untested) == (59, 1, 0)
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_key_that_comes_late_goes_to_the_device_that_it_was_meant_for(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("2")
        clock.now += 2.3
        await machine.until(lambda: at_hand(machine) == 2)
        await machine.press("minus", "minus")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        assert machine.mark("r2c1", "lamps") is Mark.DEAD
        clock.now += 2.4
        await machine.until(lambda: at_hand(machine) == 3)
        await machine.press("minus")
        assert machine.mark("r3c1", "lamps") is Mark.DEAD


async def test_a_key_half_a_second_after_the_step_goes_to_the_device_that_is_shown(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("2")
        clock.now += 2.6
        await machine.until(lambda: at_hand(machine) == 2)
        await machine.press("minus")
        assert machine.mark("r1c1", "lamps") is Mark.UNTESTED
        assert machine.mark("r2c1", "lamps") is Mark.DEAD


async def test_one_key_moves_the_last_judgement_to_the_device_before(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2", "less_than_sign")
        await machine.type("2")
        clock.now += 3.0
        await machine.until(lambda: at_hand(machine) == 2)
        await machine.press("minus", "less_than_sign")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        assert machine.mark("r2c1", "lamps") is Mark.UNTESTED
        await machine.press("less_than_sign")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        assert "no judgement to move" in machine.text()


async def test_a_bar_runs_down_to_the_next_step(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("4")

        def bar() -> int:
            return max(map(len, re.findall("━+", machine.text())), default=0)

        full = bar()
        assert full > 3
        clock.now += 1.9
        await machine.until(lambda: 0 < bar() <= full // 2 + 1)
        clock.now += 1.9
        await machine.until(lambda: bar() == 1)


async def test_nothing_is_assumed_when_the_question_is_answered_with_no(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("1.5")
        clock.now += 16.0
        await machine.until(lambda: at_hand(machine) == 11)
        await machine.press("escape")
        assert "10 not judged" in machine.text()
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.reader().status(machine.job)["lamps"].untested == 60


async def test_a_timed_walk_can_be_put_right_moved_and_stopped(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("4")
        clock.now += 3.5
        await machine.press("enter")
        assert at_hand(machine) == 2
        await machine.press("right")
        assert at_hand(machine) == 3
        await machine.press("left")
        assert at_hand(machine) == 2
        await machine.press("space")
        assert "paused" in machine.text()
        clock.now += 100.0
        await machine.settle()
        assert at_hand(machine) == 2
        await machine.press("space")
        clock.now += 4.1
        await machine.until(lambda: at_hand(machine) == 3)


async def test_a_timed_walk_beyond_reason_is_refused_in_place(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        for typed in ("0", "0.1", "61", "abc", "24-"):
            await machine.press("1")
            await machine.press(*["backspace"] * len(machine.app.screen.query_one(EntryLine).text))
            assert "! " not in machine.text()
            for sign in typed:
                machine.app.screen.query_one(EntryLine).take(sign, sign)
            await machine.press("enter")
            assert "! from one device to the next: 0.2 to 60 seconds" in machine.text(), typed


# All at once


async def test_all_at_once_marks_the_dark_ones_and_asks_about_the_rest(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "3")
        await machine.tap("25 ∙")
        await machine.type("9")
        assert [machine.mark(address, "lamps") for address in ("r1c4", "r1c2")] == [Mark.DEAD] * 2
        await machine.press("enter")
        assert "58 have no mark" in machine.text()
        await machine.press("escape")
        assert machine.reader().status(machine.job)["lamps"].untested == 58
        await machine.press("enter", "enter")
        assert machine.reader().status(machine.job)["lamps"].working == 58
        await machine.press("u")
        assert machine.reader().status(machine.job)["lamps"].untested == 58


async def test_a_round_that_closes_while_the_book_is_read_draws_nothing_more(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "3")
        screen = machine.app.screen
        assert isinstance(screen, AllLitScreen)

        async def read_while_it_closes() -> None:
            screen.dismiss()
            while screen.query("#more"):
                await asyncio.sleep(0)

        screen.desk.reload = read_while_it_closes  # type: ignore[method-assign]
        screen.read_anew()
        await machine.settle()
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_lamp_tapped_by_mistake_is_tapped_again(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "3")
        await machine.tap("25 ∙")
        await machine.tap("25 ✗")
        assert machine.mark("r1c4", "lamps") is Mark.WORKING


# Rest scan and hold round


async def test_ticks_of_a_rest_scan_are_not_thrown_away_by_one_key(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3")
        await machine.press("space", "escape")
        assert "1 ticked and not kept" in machine.text()
        await machine.press("escape", "enter")
        assert len(machine.reader().state(machine.job).rest_scans) == 1
        await machine.press("g", "3", "escape")
        assert isinstance(machine.app.screen, JobScreen)
        await machine.press("g", "3", "space", "escape", "enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert len(machine.reader().state(machine.job).rest_scans) == 1


async def test_a_rest_scan_keeps_what_was_ticked_and_nothing_else(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3")
        assert "6 should be closed at rest" in machine.text()
        await machine.tap("21 ∙")
        await machine.type("11 12")
        await machine.press("down", "space", "space")
        await machine.press("enter")
        state = machine.reader().state(machine.job)
        assert [scan.reading.answered for scan in state.rest_scans] == [
            (CellKey("switches", 1, 1), CellKey("switches", 1, 2), CellKey("switches", 2, 1))
        ]
        assert state.standings[CellKey("switches", 1, 2)].mark is Mark.STUCK
        assert state.round is None


async def test_what_is_meant_to_show_is_ticked_only_on_demand(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3")
        assert "●" not in machine.text()
        await machine.press("tab")
        assert machine.text().count("●") == 6
        await machine.type("99")
        assert "has no 99" in machine.text()


async def test_a_hold_round_is_led_from_holding_to_the_scan_to_the_presses(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    async with run() as machine:
        await machine.press("g", "4")
        assert "21 32" in machine.text()
        assert "left outlane, tram stop 2" in machine.text()
        await machine.press("enter")
        assert isinstance(machine.app.screen, RestScreen)
        held = (CellKey("switches", 1, 2), CellKey("switches", 2, 3))
        assert machine.reader().state(machine.job).round.held == held
        await machine.type("21 32")
        await machine.press("enter")
        assert isinstance(machine.app.screen, HoldScreen)
        assert "58 left to press" in machine.text()
        await machine.type("31+22")
        current = machine.reader().state(machine.job).current[-1]
        assert current.cell == CellKey("switches", 1, 3)
        assert current.held == held
        assert set(current.answered) == {CellKey("switches", 1, 3), CellKey("switches", 2, 2), *held}
        assert "57 left to press" in machine.text()
        await machine.type("31")
        assert "57 left to press" in machine.text()
        assert machine.reader().state(machine.job).current[-1].cell == CellKey("switches", 1, 3)
        await machine.press("escape")
        assert machine.reader().state(machine.job).round is None
        assert "The round: 1 tested" in machine.text()


@at_sizes(PHONE, slow=[NARROW])
async def test_every_switch_of_a_large_set_to_hold_is_named(
    run: Run, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    held = tuple(CellKey("switches", place, place) for place in range(1, 7))
    test = NextTest(matrix="switches", cell=CellKey("switches", 8, 2), held=held, gain=0.1, says="press 28, holding")
    monkeypatch.setattr(CannedBench, "answer", lambda: silent().model_copy(update={"next": (test,)}))
    async with run(size) as machine:
        await machine.press("g", "4")
        said = " ".join(machine.text().split())
        matrix = machine.reader().state(machine.job).layout.matrix("switches")
        assert [matrix.by_key[key].name for key in held if matrix.by_key[key].name not in said] == []


@pytest.mark.parametrize(("typed", "line"), [("21 22", "column 2"), ("21 31", "row 1")])
async def test_two_switches_of_one_line_are_not_held_together(run: Run, typed: str, line: str) -> None:
    async with run() as machine:
        await machine.press("g", "4")
        await machine.type(typed)
        assert f"{typed.replace(' ', ' and ')} are both in {line}" in " ".join(machine.text().split())
        assert machine.reader().state(machine.job).round is None


async def test_switches_to_hold_can_be_typed_and_a_slip_is_refused(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "4")
        await machine.type("21 99")
        assert "has no 99" in machine.text()
        await machine.press("backspace", "backspace", "3", "2", "enter")
        assert machine.reader().state(machine.job).round.held == (CellKey("switches", 1, 2), CellKey("switches", 2, 3))


# Later, deciding, checks


async def test_a_group_of_the_later_list_becomes_a_round_over_just_those(
    run: Run, bench: CannedBench, job: str
) -> None:
    bench.mark(job, "switches", "c1 c2 c3 c4 c5 c6 c7 81 82")
    bench.mark(job, "switches", "81. 82.")
    async with run() as machine:
        await machine.press("l")
        lines = machine.text().split("\n")
        group = next(line for line in lines if "ball · switches" in line)
        await machine.tap(group.strip(" ▌")[2:])
        assert "A round through 3 cells of switches" in machine.text()
        await machine.press("1")
        assert isinstance(machine.app.screen, RollScreen)
        assert [cell.number for cell in machine.app.screen.order] == [85, 86, 87]


async def test_what_a_repair_calls_for_heads_the_later_list_and_stands_there_once(
    run: Run, bench: CannedBench, job: str
) -> None:
    bench.mark(job, "switches", "c3-")
    bench.repair(job, "switches.r4c3")
    async with run() as machine:
        await machine.press("l")
        shown = [line.strip() for line in machine.text().split("\n")]
        assert "1 test again · switches · 1" in shown[2]
        assert shown[3] == "34 tram stop 4 (repaired, glass off)"
        assert machine.text().count("34 tram stop 4") == 1
        await machine.press("1", "2")
        assert isinstance(machine.app.screen, WalkScreen)
        assert [cell.number for cell in machine.app.screen.order] == [34]


async def test_one_key_starts_a_round_over_the_cells_that_would_decide(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    async with run() as machine:
        await machine.press("d")
        assert "A round through 1 cell of switches" in machine.text()
        await machine.press("2")
        assert isinstance(machine.app.screen, WalkScreen)
        assert [cell.number for cell in machine.app.screen.order] == [38]


async def test_what_a_check_found_goes_into_the_journal(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run() as machine:
        await machine.press("s", "k")
        assert "Bench checks" in machine.text()
        assert "prop it with its own stay" in " ".join(machine.text().split())
        await machine.press("enter")
        assert "kept: Q3 found good" in machine.text()
        await machine.press("m", "enter")
        state = machine.reader().state(machine.job)
        assert [repair.place for repair in state.repairs] == ["Q3"]
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


TRAM = read_layout(find_layout("saltmarsh-tram"))


def column_three_to_check() -> Diagnosis:
    found = column_three()
    return found.model_copy(update={"checks": bench_checks(TRAM, found.suspects)})


async def test_a_check_is_recorded_by_its_code_and_a_repair_by_its_place(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three_to_check))
    async with run() as machine:
        await machine.press("s", "k")
        assert machine.text().count("Volts first, then ohms.") <= 1
        assert "driver-open.Q3" in machine.text()
        await machine.press("enter")
        assert "kept: driver-open.Q3 found good" in machine.text()
        (made,) = machine.reader().state(machine.job).findings
        known = check_named(TRAM, "driver-open.Q3")
        assert (made.finding.code, made.finding.faults) == (known.check.code, known.sees)
        await machine.press("m", "enter")
        assert [repair.place for repair in machine.reader().state(machine.job).repairs] == ["Q3"]


async def test_without_a_suspect_there_is_nothing_to_check(run: Run) -> None:
    async with run() as machine:
        await machine.press("k")
        assert "there is no suspect yet" in machine.text()


# Coming back


@pytest.mark.parametrize(
    ("keys", "screen"),
    some_of(
        [(("g", "1"), RollScreen), (("g", "2", "enter", "enter", "minus"), WalkScreen), (("g", "3"), RestScreen)], 1
    ),
)
async def test_an_open_round_is_taken_up_again_from_the_journal(
    run: Run, keys: tuple[str, ...], screen: type[RoundScreen]
) -> None:
    async with run() as machine:
        await machine.press(*keys)
    async with run() as machine:
        assert isinstance(machine.app.screen, screen)
        if screen is WalkScreen:
            assert at_hand(machine) == 13
        await machine.press("escape")
        assert machine.reader().state(machine.job).round is None


@pytest.mark.parametrize(("key", "screen"), some_of([("1", RollScreen), ("2", WalkScreen)], 1))
async def test_a_round_over_a_few_cells_is_taken_up_over_just_those(
    run: Run, key: str, screen: type[RoundScreen], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    async with run() as machine:
        await machine.press("d", key)
    async with run() as machine:
        assert isinstance(machine.app.screen, screen)
        assert [cell.number for cell in machine.app.screen.order] == [38]


async def test_all_at_once_is_taken_up_as_that(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "3")
        await machine.tap("25 ∙")
    async with run(matrix="lamps") as machine:
        assert isinstance(machine.app.screen, AllLitScreen)
        assert "59 not marked yet" in machine.text()


async def test_a_timed_walk_is_taken_up_stopped_and_counts_nothing_that_passed_unseen(run: Run, clock: Clock) -> None:
    async with run(matrix="lamps", clock=clock) as machine:
        await machine.press("g", "2")
        await machine.type("2")
        clock.now += 9.0
        await machine.until(lambda: at_hand(machine) == 5)
        await machine.press("enter")
        assert at_hand(machine) == 5
    async with run(matrix="lamps", clock=clock) as machine:
        assert isinstance(machine.app.screen, TimedWalkScreen)
        assert "Walk resumed" in machine.text()
        assert at_hand(machine) == 5
        clock.now += 100.0
        await machine.settle()
        assert at_hand(machine) == 5
        await machine.press("right", "right")
        await machine.press("enter")
        assert "Walk resumed" not in machine.text()
        assert at_hand(machine) == 8
        clock.now += 2.1
        await machine.until(lambda: at_hand(machine) == 9)
        await machine.press("escape")
        assert "6 not judged" in machine.text()
        assert "Their numbers: 1 2 3 4 7 8" in machine.text()


async def test_a_hold_round_is_taken_up_after_its_scan(run: Run, bench: CannedBench, job: str) -> None:
    bench.start_round(job, "switches", "hold", [CellKey("switches", 1, 2), CellKey("switches", 2, 3)])
    async with run() as machine:
        assert isinstance(machine.app.screen, RestScreen)
    bench.rest_scan(job, "switches", "21 32")
    async with run() as machine:
        assert isinstance(machine.app.screen, HoldScreen)


async def test_a_round_that_another_process_ends_ends_here_too(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        machine.reader().end_round(machine.job)
        await machine.until(lambda: isinstance(machine.app.screen, JobScreen))


@AT_EACH_SIZE
async def test_a_walk_can_be_tapped_through_at_every_size(run: Run, size: tuple[int, int]) -> None:
    async with run(size, matrix="coils") as machine:
        await machine.press("g")
        await machine.tap("1 walk")
        await machine.tap("works", last=True)
        await machine.tap("dead", last=True)
        assert [machine.mark(f"r{row}c1", "coils") for row in (1, 2)] == [Mark.WORKING, Mark.DEAD]
        await machine.tap("end", last=True)
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_cell_of_another_matrix_is_found_by_name(run: Run) -> None:
    async with run() as machine:
        await machine.press("f", *"knock", "enter")
        grid = machine.app.screen.query_one(MatrixGrid)
        assert grid.matrix.id == "coils"
        assert grid.matrix.by_key[grid.cursor].name == "knocker"


async def test_an_action_is_found_by_name_and_done(run: Run) -> None:
    async with run() as machine:
        await machine.press("x", *"show the", "enter")
        assert "The later list" in machine.text()


async def test_a_key_tapped_in_the_help_is_done(run: Run) -> None:
    async with run() as machine:
        await machine.press("question_mark")
        await machine.tap("find a cell")
        assert "Find a cell" in machine.text()
