"""Numbers with letters on the screens: typed as the chart prints them, by keys and on a keypad, none by accident."""

from __future__ import annotations

import pytest
from msgspec.structs import replace
from pilots import NARROW, PHONE, WIDE, CannedBench, Clock, Machine, Run, at_sizes
from textual import events

from matrixcheck.layout.model import Line
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import Read
from matrixcheck.tui.keymap import checked
from matrixcheck.tui.look import LOOK
from matrixcheck.tui.screens.ask import AskScreen
from matrixcheck.tui.screens.choose_round import ChooseRoundScreen
from matrixcheck.tui.screens.grid_screen import GridScreen
from matrixcheck.tui.screens.help import HelpScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.log import LogScreen
from matrixcheck.tui.screens.rest import RestScreen
from matrixcheck.tui.screens.roll import RollScreen
from matrixcheck.tui.text.figures import figures
from matrixcheck.tui.text.keys import placed
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from tests.samples import some_of
from tests.signal_box import LAYOUT


@pytest.fixture
def job(bench: CannedBench) -> str:
    """Put the machine with such numbers on the bench; the job's id."""
    return bench.new_job(LAYOUT, "Box")


def kept(machine: Machine) -> int:
    """Count what the journal holds of the job."""
    return len(machine.reader().state(machine.job).history)


def entry(machine: Machine) -> EntryLine:
    """Give the entry line of the screen that is shown."""
    return machine.app.screen.query_one(EntryLine)


async def tap_key(machine: Machine, word: str) -> None:
    """Tap the button that shows this word, in its middle."""
    bar = machine.app.screen.query_one(KeyBar)
    place = next(one for one in placed(bar._caps, bar.size.width, bar.tall) if one.cap.word == word)
    await machine.click("KeyBar", (place.left + place.right) // 2, place.top)


@pytest.mark.parametrize(
    ("typed", "place", "mark"),
    some_of(
        [
            ("9l", "r2c1", Mark.WORKING),
            ("9L-", "r2c1", Mark.DEAD),
            ("a-3", "r1c3", Mark.WORKING),
            ("A-3-", "r1c3", Mark.DEAD),
            ("a-", "r3c2", Mark.DEAD),
            ("d1*", "r1c2", Mark.STUCK),
            ("D10", "r2c3", Mark.WORKING),
        ],
        3,
    ),
)
async def test_what_the_chart_prints_is_typed_as_it_stands(run: Run, typed: str, place: str, mark: Mark) -> None:
    async with run() as machine:
        await machine.type(typed)
        assert machine.mark(place) is mark
        assert isinstance(machine.app.screen, JobScreen)


@pytest.mark.parametrize("matrix", ["switches", "lamps"])
async def test_a_letter_that_begins_a_number_does_nothing_before_enter(run: Run, matrix: str) -> None:
    async with run(matrix=matrix) as machine:
        await machine.type("9l" if matrix == "switches" else "7b")
        before = kept(machine)
        screen = machine.app.screen
        assert isinstance(screen, GridScreen)
        for letter in sorted(screen.matrix.first_letters):
            await machine.press(letter)
            assert machine.app.screen is screen
            assert entry(machine).text == letter
            assert kept(machine) == before
            await machine.press("escape")
            assert entry(machine).text == ""
        assert kept(machine) == before


async def test_typing_a_number_that_begins_with_the_letter_of_undo_undoes_nothing(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.type("7b")
        await machine.type("u1-")
        assert (machine.mark("r2c2", "lamps"), machine.mark("r1c1", "lamps")) == (Mark.WORKING, Mark.DEAD)


async def test_the_letter_and_enter_are_the_command_and_the_line_says_so_first(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.type("7b")
        await machine.press("u")
        assert entry(machine).said == "U1 red; Enter: undo"
        await machine.press("enter")
        assert machine.mark("r2c2", "lamps") is Mark.UNTESTED
        assert entry(machine).text == ""
        await machine.press("g", "enter")
        assert isinstance(machine.app.screen, ChooseRoundScreen)


async def test_a_letter_that_is_a_number_itself_is_that_and_the_line_says_so_first(run: Run) -> None:
    async with run() as machine:
        await machine.press("a")
        assert entry(machine).said == "Enter keeps A apron: working"
        await machine.press("enter")
        assert machine.mark("r3c2") is Mark.WORKING
        assert isinstance(machine.app.screen, JobScreen)


async def test_other_letters_are_commands_as_ever(run: Run) -> None:
    async with run() as machine:
        await machine.type("9l")
        await machine.press("u")
        assert machine.mark("r2c1") is Mark.UNTESTED
        await machine.press("tab", "tab", "d")
        assert entry(machine).text == ""


async def test_keys_and_help_name_what_is_pressed_in_this_matrix(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        bar = machine.app.screen.query_one(KeyBar)
        assert "u Enter undo" in plain(bar.rows)
        assert "g Enter round" in plain(bar.rows)
        await machine.press("tab")
        assert "u undo" in plain(bar.rows)
        await machine.press("tab", "question_mark")
        shown = " ".join(" ".join(plain(lines.rows).split()) for lines in machine.app.screen.query(Lines))
        assert "A-3 is typed as it stands, in capital or small letters." in shown
        await machine.press("escape", "tab", "question_mark")
        assert isinstance(machine.app.screen, HelpScreen)
        shown = " ".join(plain(lines.rows) for lines in machine.app.screen.query(Lines))
        assert "u Enter  undo" in shown
        assert "Numbers with letters" in shown


async def test_how_to_begin_names_no_key_that_is_a_number(run: Run) -> None:
    async with run() as machine:
        assert "checks before power" not in entry(machine).said
        assert "; g a round" in entry(machine).said
        await machine.press("tab")
        assert "; a checks before power; g Enter a round" in entry(machine).said


async def test_a_machine_of_plain_numbers_says_nothing_of_letters(run: Run) -> None:
    async with run(matrix="coils") as machine:
        await machine.press("question_mark")
        assert "letters" not in " ".join(plain(lines.rows) for lines in machine.app.screen.query(Lines))


async def test_a_half_typed_number_is_answered_with_those_that_go_on_so(run: Run) -> None:
    async with run() as machine:
        await machine.press("9")
        assert entry(machine).said == "9L left rail, 9R right rail"
        await machine.press("enter")
        assert entry(machine).said.startswith("! '9': switches has no 9: near it are 2, 10")
        assert kept(machine) == 1


async def test_a_pasted_sign_makes_no_other_number_of_the_cell_at_hand(run: Run) -> None:
    async with run() as machine:
        await machine.press("a", "enter")
        before = kept(machine)
        machine.app.post_message(events.Paste("-3"))
        await machine.settle()
        await machine.press("enter")
        assert kept(machine) == before
        assert machine.mark("r1c3") is Mark.UNTESTED


async def test_a_cell_is_found_by_its_number(run: Run) -> None:
    async with run() as machine:
        await machine.press("n", *"9r", "enter")
        screen = machine.app.screen
        assert isinstance(screen, JobScreen)
        assert screen.cell.number == "9R"


async def test_a_roll_takes_numbers_and_names_and_calls_them_back_large(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        assert isinstance(machine.app.screen, RollScreen)
        await machine.type("9l")
        assert machine.mark("r2c1") is Mark.WORKING
        lines = [line.strip() for line in machine.text().split("\n")]
        assert all(any(drawn.strip() in line for line in lines) for drawn in figures("9L"))
        await machine.type("-")
        assert machine.mark("r2c1") is Mark.DEAD
        await machine.type("siding")
        await machine.press("enter")
        assert machine.mark("r1c3") is Mark.WORKING


async def test_a_slip_in_a_number_marks_nothing_in_a_roll(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "1")
        before = kept(machine)
        for slip in ("9x", "d2", "d2-", "9x+2", "b", "d", "9", "a-9l"):
            await machine.type(slip)
            assert kept(machine) == before, slip
            assert entry(machine).said.startswith("! "), slip
            await machine.press("delete")
            assert not entry(machine).said.startswith("! "), slip


async def test_a_rest_scan_ticks_such_numbers(run: Run) -> None:
    async with run() as machine:
        await machine.press("g", "3")
        assert isinstance(machine.app.screen, RestScreen)
        await machine.type("a-3 9l")
        await machine.press("enter")
        history = machine.reader().state(machine.job).history
        (scan,) = [one.event.reading for one in history if isinstance(one.event, Read)]
        assert scan.answered == (CellKey("switches", 1, 3), CellKey("switches", 2, 1))


async def test_all_at_once_a_number_alone_is_a_dark_one(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "enter", "3")
        await machine.type("u1")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        await machine.press("enter")
        assert isinstance(machine.app.screen, AskScreen)


async def test_a_walk_and_one_in_time_take_a_typed_number(run: Run) -> None:
    async with run(matrix="lamps", clock=Clock()) as machine:
        await machine.press("g", "enter", "1")
        await machine.type("g2*")
        assert machine.mark("r1c2", "lamps") is Mark.STUCK
        await machine.press("escape")
        await machine.press("g", "enter", "2", "enter", *"2.5", "enter")
        await machine.type("u1-")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD


@pytest.mark.parametrize(("keys", "at"), [((), "job"), (("g", "1"), "roll")])
async def test_a_phone_types_letters_on_its_keypad(run: Run, keys: tuple[str, ...], at: str) -> None:
    async with run(PHONE) as machine:
        await machine.press(*keys)
        if at == "job":
            await tap_key(machine, "pad")
        for word in ("9", "L", "Enter"):
            await tap_key(machine, word)
        assert machine.mark("r2c1") is Mark.WORKING
        for word in ("A", "-", "3", "-", "Enter"):
            await tap_key(machine, word)
        assert machine.mark("r1c3") is Mark.DEAD


async def test_a_phone_types_letters_for_what_is_held(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.press("g", "4")
        for word in ("9", "L", "space", "A", "-", "3", "Enter"):
            await tap_key(machine, word)
        begun = machine.reader().state(machine.job).round
        assert begun is not None
        assert begun.held == (CellKey("switches", 2, 1), CellKey("switches", 1, 3))


@at_sizes(PHONE, (39, 30), slow=[WIDE, NARROW])
async def test_tiles_show_the_numbers_at_every_size(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        shown = machine.text()
        for number in ("9L", "A-3", "D10", "10"):
            assert f" {number} " in shown or f"▸{number} " in shown


async def test_the_keypad_with_letters_lies_within_a_phone(run: Run) -> None:
    async with run((39, 30)) as machine:
        await tap_key(machine, "pad")
        bar = machine.app.screen.query_one(KeyBar)
        assert bar.region.bottom <= 30
        assert bar.size.height == len(bar.rows)


MANY = tuple(f"{letter}1" for letter in "ABDEFGHIJKLM")


@pytest.fixture
def many(bench: CannedBench) -> str:
    """Put a machine on the bench whose numbers begin with a dozen letters; the job's id."""
    first = LAYOUT.matrices[0]
    switches = replace(
        first, numbers=(MANY,), cells=(("lamp post",) * len(MANY),), walk=(), columns=(), rows=(), notes={}
    )
    lines = tuple(Line(label=str(place)) for place in range(1, len(MANY) + 1))
    layout = replace(LAYOUT, matrices=(replace(switches, columns=lines, rows=lines[:1]),))
    return bench.new_job(layout, "Many")


async def test_many_letters_are_behind_a_key_of_the_keypad(run: Run, many: str) -> None:
    async with run(PHONE, of=many) as machine:
        await tap_key(machine, "pad")
        for word in ("ABC", "K", "123", "1", "-", "Enter"):
            await tap_key(machine, word)
        assert machine.mark("r1c10") is Mark.DEAD
        bar = machine.app.screen.query_one(KeyBar)
        assert bar.region.bottom <= PHONE[1]


async def test_many_letters_are_behind_a_key_where_switches_are_held(run: Run, many: str) -> None:
    async with run(PHONE, of=many) as machine:
        await tap_key(machine, "round")
        await machine.press("4")
        for word in ("ABC", "K", "123", "1", "Enter"):
            await tap_key(machine, word)
        begun = machine.reader().state(machine.job).round
        assert begun is not None
        assert begun.held == (CellKey("switches", 1, 10),)


async def test_a_key_of_ones_own_waits_for_enter_too(run: Run) -> None:
    async with run(matrix="lamps", look=LOOK._replace(keys=checked({"history": "G", "round": "F11"}))) as machine:
        assert "G Enter history" in plain(machine.app.screen.query_one(KeyBar).rows)
        await machine.press("G")
        assert entry(machine).said == "G2 amber; Enter: what was recorded, newest first"
        await machine.press("enter")
        assert isinstance(machine.app.screen, LogScreen)
