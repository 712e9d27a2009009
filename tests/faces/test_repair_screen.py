"""Repairs under real keys: from a card, from a cell and from the job, and the round over what they make due."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, CannedBench, Machine, Run, column_three
from textual import events

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.job_state import RepairMade
from matrixcheck.tui.screens.checks import ChecksScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.repair import RepairScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.lines import Lines


def keys(text: str) -> list[str]:
    """The keys of a text."""
    named = {" ": "space", ".": "full_stop", "-": "minus"}
    return [named.get(sign, sign) for sign in text]


def repairs(machine: Machine) -> tuple[RepairMade, ...]:
    """What the journal holds."""
    return machine.reader().state(machine.job).repairs


def said(machine: Machine) -> str:
    """The screen as one line."""
    return " ".join(machine.text().split())


def beside(machine: Machine) -> str:
    """What a round says below the device at hand, as one line of what has room."""
    more = machine.app.screen.query_one("#more", Lines)
    return " ".join(plain(more.rows[: more.size.height]).split())


@pytest.fixture
def canned(bench: CannedBench, monkeypatch: pytest.MonkeyPatch) -> CannedBench:
    """A bench whose analyser blames the driver of column 3."""
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    return bench


@AT_EACH_SIZE
async def test_a_replaced_part_is_kept_in_three_keys_from_its_card(
    run: Run, canned: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, on=canned) as machine:
        await machine.press("s", "m", "enter")
        (made,) = repairs(machine)
        assert (made.place, made.did) == ("Q3", "replaced")
        assert isinstance(machine.app.screen, JobScreen)
        assert "kept: Q3 repaired" in said(machine)


@AT_EACH_SIZE
async def test_every_line_of_a_repair_is_kept_as_it_was_filled_in(
    run: Run, canned: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, on=canned) as machine:
        await machine.press("s", "m", *keys("new transistor"), "down", *keys("an equal one"))
        await machine.press("down", *keys("hFE 200"), "down", *keys("pin 2 cracked"), "enter")
        (made,) = repairs(machine)
        assert (made.place, made.did, made.fitted) == ("Q3", "new transistor", "an equal one")
        assert (made.value, made.note) == ("hFE 200", "pin 2 cracked")


@AT_EACH_SIZE
async def test_the_form_says_what_a_name_stands_for_and_how_many_cells_work_through_it(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size) as machine:
        await machine.press("m", "up", *keys("q3"))
        assert "Q3. Cells behind it: 8 of switches." in said(machine)
        await machine.press("escape")
        assert repairs(machine) == ()


async def test_a_repair_is_named_in_any_way_that_the_program_writes(run: Run) -> None:
    async with run() as machine:
        lamp = machine.reader().state(machine.job).layout.matrix("lamps").by_number[21]
        named = {
            "k1": "K1",
            "switch column 3": "switches.c3",
            "lamp 21": str(lamp.key),
            "contact X5-3": "X5-3",
            "r9c1": "coils.r9c1",
        }
        for count, typed in enumerate(named, 1):
            await machine.press("m", "up", "end", "ctrl+u", *keys(typed), "enter")
            assert [made.place for made in repairs(machine)] == [*named.values()][:count], typed


async def test_a_name_of_nothing_in_the_layout_is_asked_again_and_nothing_is_kept(run: Run) -> None:
    async with run() as machine:
        await machine.press("m", "up", *keys("switches.9"), "enter")
        assert "has no part" in said(machine)
        assert isinstance(machine.app.screen, RepairScreen)
        assert repairs(machine) == ()


async def test_a_name_that_could_be_several_is_asked_again_and_nothing_is_kept(run: Run) -> None:
    async with run() as machine:
        await machine.press("m", "up", *keys("column 3"), "enter")
        assert "could be switches.c3, lamps.c3" in said(machine)
        assert repairs(machine) == ()
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)


@AT_EACH_SIZE
async def test_what_is_outside_the_layout_is_kept_only_when_it_is_said_to_be_and_what_was_done(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size) as machine:
        await machine.press("m", "up", *keys("flipper link"), "enter")
        assert "F4 keeps it as outside the layout" in said(machine)
        assert repairs(machine) == ()
        await machine.press("f4", "enter")
        assert "say what was done" in said(machine)
        await machine.press(*keys("new bush"), "enter")
        (made,) = repairs(machine)
        assert (made.place, made.outside, made.did, made.due) == ("flipper link", True, "new bush", frozenset())


async def test_another_place_at_hand_is_taken_by_tab_or_by_a_tap(run: Run) -> None:
    async with run() as machine:
        await machine.press("m", "tab", "tab", "enter")
        await machine.press("m")
        await machine.tap("Q1")
        await machine.press("enter")
        assert [(one.place, one.did) for one in repairs(machine)] == [("X1-1", ""), ("Q1", "replaced")]


async def test_what_is_typed_takes_the_place_of_the_usual_work_also_at_another_place(run: Run) -> None:
    async with run() as machine:
        await machine.press("m", *["tab"] * 4, *keys("new one"), "enter")
        (made,) = repairs(machine)
        assert (made.place, made.did) == ("Q1", "new one")


async def test_a_repair_from_the_checks_comes_back_to_them_and_says_so(run: Run, canned: CannedBench) -> None:
    async with run(on=canned) as machine:
        await machine.press("k", "m", *keys("reflowed"), "enter")
        assert isinstance(machine.app.screen, ChecksScreen)
        assert "kept: Q3 repaired" in said(machine)
        assert "repaired 2026-11-21" in said(machine)


async def test_enter_pressed_twice_keeps_one_repair(run: Run, canned: CannedBench) -> None:
    async with run(on=canned) as machine:
        await machine.press("s", "m")
        for _ in range(2):
            machine.app.post_message(events.Key("enter", "\r"))
        await machine.settle()
        assert len(repairs(machine)) == 1
        assert machine.mark("r1c1") is Mark.UNTESTED


# The round over what is due


@AT_EACH_SIZE
async def test_a_walk_over_just_what_is_due_is_one_key_from_the_job_and_its_tab_says_how_many(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.mark(job, "switches", "31- 32- 41 42")
    bench.repair(job, "Q3")
    async with run(size) as machine:
        assert "↻2" in machine.text().split("\n")[1]
        await machine.press("e")
        screen = machine.app.screen
        assert isinstance(screen, WalkScreen)
        assert [cell.number for cell in screen.order] == [31, 32]
        assert "keep hands and tools off coils" in said(machine)


async def test_a_walk_over_what_is_due_goes_to_the_matrix_that_has_any(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "lamps", "11-")
    bench.repair(job, "lamp 11")
    async with run() as machine:
        assert "lamps 0/60 ↻1" in machine.text()
        assert "switches 0/60  " in machine.text()
        await machine.press("e")
        screen = machine.app.screen
        assert isinstance(screen, WalkScreen)
        assert screen.matrix.id == "lamps"


async def test_nothing_due_starts_no_round_and_says_so(run: Run) -> None:
    async with run() as machine:
        await machine.press("e")
        assert isinstance(machine.app.screen, JobScreen)
        assert "nothing is due for a retest" in machine.text()
        assert machine.reader().state(machine.job).round is None


@AT_EACH_SIZE
async def test_a_retest_that_passes_says_closed_by_that_repair_and_one_that_fails_says_open_again(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.mark(job, "switches", "31- 32-")
    bench.repair(job, "Q3")
    async with run(size) as machine:
        await machine.press("e", "enter", "minus")
        assert "Q3: 1 of 2 cells still fail. Open again." in beside(machine)
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert "Q3: 1 of 2 cells still fail. Open again." in said(machine)
        await machine.press("m", "up", *keys("X1-3"), "enter", "e", "enter", "enter")
        assert "X1-3: 2 cells tested again, all pass. Closed by that repair." in beside(machine)
        await machine.press("escape")
        assert "Closed by that repair" in said(machine)
        assert "Q3:" not in said(machine)
    assert [one.outcome for one in bench.state(job).repairs] == ["failed", "passed"]


async def test_a_retest_in_a_roll_says_what_it_came_to_as_well(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    async with run() as machine:
        await machine.press("l", "1", "1")
        assert isinstance(machine.app.screen, RollScreen)
        assert "Closed" not in said(machine)
        await machine.press("3", "1", "enter")
        assert "Q3: 1 cell tested again, all pass. Closed by that repair." in beside(machine)


async def test_a_round_that_tests_nothing_again_says_nothing_of_repairs(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    bench.mark(job, "switches", "31")
    async with run() as machine:
        await machine.press("g", "2", "enter", "escape")
        assert "Closed" not in said(machine)


async def test_an_intermittent_cell_is_due_until_it_has_passed_three_times(
    run: Run, bench: CannedBench, job: str
) -> None:
    bench.mark(job, "switches", "31")
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    key = CellKey("switches", 1, 3)
    async with run() as machine:
        for left in ("2 more passes needed", "one more pass needed"):
            await machine.press("e", "enter")
            assert left in said(machine)
            assert "1 of 1 cell left to test again" in beside(machine)
            await machine.press("escape")
            assert machine.reader().state(job).standings[key].retest_due == "Q3"
        await machine.press("e", "enter")
        assert "Closed by that repair" in beside(machine)
        assert machine.reader().state(job).standings[key].retest_due is None


async def test_a_coil_on_at_rest_comes_before_a_retest(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "31-")
    bench.repair(job, "Q3")
    bench.mark(job, "coils", "1*")
    async with run() as machine:
        await machine.press("escape", "e")
        assert "Switch off now" in said(machine)
        assert machine.reader().state(job).round is None
