"""What the meter shows before power, typed under real keys: judged by its limit, whose source is named."""

from __future__ import annotations

import pytest
from pilots import AT_EACH_SIZE, NOON, PHONE, CannedBench, Machine, Run

from matrixcheck.layout.files import find_layout, parse_layout
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.record.job_state import SafetyCheckMade
from matrixcheck.record.safety_checks import checklist
from matrixcheck.tui.look import LOOK
from matrixcheck.tui.screens.safety import SafetyScreen
from matrixcheck.tui.screens.words import WordsScreen
from matrixcheck.tui.widgets.entry_line import EntryLine

TO_EARTH, TO_INSULATION = ["a", *["down"] * 3], ["a", *["down"] * 4]
RAIL = '[[check]]\nsection = "before power"\ntext = "5 V rail"\nunit = "volts"\nleast = 4.9\nmost = 5.2\n'


def keys(text: str) -> list[str]:
    """The keys of a text."""
    named = {" ": "space", ".": "full_stop", ",": "comma", "=": "equals_sign", ":": "colon"}
    return [named.get(sign, sign) for sign in text]


def said(machine: Machine) -> str:
    """The screen as one line."""
    return " ".join(machine.text().split())


def checks(machine: Machine) -> tuple[SafetyCheckMade, ...]:
    """What the journal holds."""
    return machine.reader().state(machine.job).safety


@AT_EACH_SIZE
async def test_a_reading_of_the_earth_bond_is_judged_by_the_lead_and_the_source_is_named(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size) as machine:
        await machine.press(*TO_EARTH, *keys("0.12 2.5x0.75"), "enter")
        (made,) = checks(machine)
        assert (made.item, made.passed, made.reading, made.limit) == ("earth bond", True, 0.12, 0.165)
        assert "IEC 60228" in made.source
        assert "kept: earth bond passed: 0.12 ohms, at most 0.165" in said(machine)
        assert "IEC 60228" in said(machine)
        assert "1 passed" in said(machine)


@AT_EACH_SIZE
async def test_a_reading_beyond_the_limit_fails_the_check(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press(*TO_EARTH, *keys("0,4 0.3"), "enter")
        (made,) = checks(machine)
        assert (made.passed, made.reading, made.limit, made.source) == (False, 0.4, 0.3, "set by hand")
        assert "kept: earth bond FAILED: 0.4 ohms, at most 0.3 (set by hand)" in said(machine)
        assert "1 FAILED" in said(machine)
        await machine.press("escape")
        assert "FAILED: earth bond." in machine.text().split("\n")[0]


async def test_the_lead_is_typed_once_and_holds_for_each_metal_part(run: Run) -> None:
    async with run() as machine:
        await machine.press(*TO_EARTH, *keys("0.1 2.5x0.75"), "enter")
        await machine.press("n", *keys("earth bond: door"), "enter", *keys("0.2"), "enter")
        door = checks(machine)[-1]
        assert (door.item, door.passed, door.limit) == ("earth bond: door", False, 0.165)


async def test_without_a_lead_the_reading_stays_typed_and_is_asked_again(run: Run) -> None:
    async with run() as machine:
        await machine.press(*TO_EARTH, *keys("0.1"), "enter")
        screen = machine.app.screen
        assert isinstance(screen, WordsScreen)
        assert "the limit depends on the mains lead" in said(machine)
        assert screen.query_one(EntryLine).text == "0.1"
        assert checks(machine) == ()
        await machine.press(*keys(" 3x1"), "enter")
        assert checks(machine)[0].limit == pytest.approx(0.1585)


async def test_where_the_rule_needs_no_lead_none_is_asked(run: Run) -> None:
    async with run(look=LOOK._replace(mains_region=EarthLimit.FLAT)) as machine:
        await machine.press(*TO_EARTH, *keys("=0.9"), "enter")
        (made,) = checks(machine)
        assert (made.passed, made.limit, made.source) == (True, 1.0, "1 ohm, whatever the lead")


async def test_what_is_no_reading_is_refused_and_stays_typed(run: Run) -> None:
    async with run() as machine:
        await machine.press(*TO_EARTH)
        for typed in ("0.1.2", "1 2.5x9", "1 x", "nan 0.3", "1e99 0.3"):
            await machine.press("equals_sign", *keys(typed), "enter")
            screen = machine.app.screen
            assert isinstance(screen, WordsScreen)
            assert screen.query_one(EntryLine).text == typed
            assert checks(machine) == ()
            await machine.press("escape")
            assert isinstance(machine.app.screen, SafetyScreen)


async def test_insulation_is_held_to_a_megohm(run: Run) -> None:
    async with run() as machine:
        await machine.press(*TO_INSULATION, *keys("0.5"), "enter")
        (made,) = checks(machine)
        assert (made.item, made.passed, made.unit) == ("insulation", False, "megohms")


async def test_volts_of_the_layouts_own_check_are_held_to_its_limits(run: Run, bench: CannedBench) -> None:
    text = find_layout("saltmarsh-tram").read_text()
    own = bench.new_job(parse_layout(text + RAIL, "own"), "own checks")
    async with run(of=own) as machine:
        items = [one.item for one in checklist(machine.reader().state(own))]
        await machine.press("a", *["down"] * items.index("5 V rail"))
        await machine.press(*keys("5.4"), "enter")
        (made,) = checks(machine)
        assert (made.item, made.passed, made.reading, made.unit) == ("5 V rail", False, 5.4, "volts")
        assert "5 V rail FAILED: 5.4 volts, 4.9 to 5.2 (the layout)" in said(machine)


@AT_EACH_SIZE
async def test_a_check_that_is_not_measured_says_so_in_one_line(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press("a", "3")
        assert "! mains lead is not measured: Enter passes it, - fails it, o waives it" in said(machine)
        assert isinstance(machine.app.screen, SafetyScreen)


@AT_EACH_SIZE
async def test_an_own_check_is_waived_only_once_it_is_in_the_book(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press("a", "n", *keys("coin door"), "enter", "o")
        assert "! coin door is not in the book yet: pass it or fail it first" in said(machine)
        assert isinstance(machine.app.screen, SafetyScreen)
        await machine.press("minus", *keys("open"), "enter", "o", *keys("shut later"), "enter")
        assert [(one.item, one.waived) for one in checks(machine)] == [("coin door", False), ("coin door", True)]


async def test_a_tap_on_the_tile_asks_for_the_reading(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.press(*TO_INSULATION)
        await machine.tap("value")
        await machine.press(*keys("3"), "enter")
        assert [(one.reading, one.at) for one in checks(machine)] == [(3.0, NOON)]
