"""One visit of the invented machine on the screens with real keys, from before power to the close of the job.

What is planted: contact X1-3 of switch column 3 is bent; its driver Q3 is suspected first. The analyser is
the real one.
"""

from __future__ import annotations

from pilots import NARROW, NOON, WIDE, Machine, Run, at_sizes

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from matrixcheck.record.safety_checks import checklist, failed_checks
from matrixcheck.tui.screens.checks import ChecksScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.walk import WalkScreen
from matrixcheck.tui.widgets.history import History
from matrixcheck.tui.widgets.picks import Picks

COLUMN = [f"r{row}c3" for row in range(1, 9)]


def keys(text: str) -> list[str]:
    """The keys of a text."""
    named = {" ": "space", ".": "full_stop", "-": "minus"}
    return [named.get(sign, sign) for sign in text]


def said(machine: Machine) -> str:
    """The screen as one line."""
    return " ".join(machine.text().split())


async def answer(machine: Machine) -> str:
    """What the job's screen says of the first card, and where it is cut, all of it."""
    screen = machine.app.screen
    assert isinstance(screen, JobScreen)
    found = screen.analysis
    assert found is not None
    return " ".join((*found.headline, *(f"{one.title} ({one.sure}) {' '.join(one.says)}" for one in found.cards)))


async def typed(machine: Machine, *entries: str) -> None:
    """Entries as they are typed at the job, Enter after each."""
    for entry in entries:
        await machine.press(*keys(entry), "enter")


async def check(machine: Machine, item: str) -> None:
    """Point at a check before power."""
    names = [one.item for one in checklist(machine.reader().state(machine.job))]
    await machine.press(*["down"] * (names.index(item) - machine.app.screen.query_one(Picks).here))


async def repaired(machine: Machine, place: str, did: str) -> None:
    """Keep a repair on its form."""
    await machine.press("m", "up", *["backspace"] * 30, *keys(place), "down", *keys(did), "enter")


async def before_power(machine: Machine) -> None:
    """A check before power fails, is loud, and is cured."""
    await machine.press("a")
    await check(machine, "earth bond")
    await machine.press("minus", *keys("2.4 ohms"), "enter", "escape")
    assert "FAILED: earth bond" in said(machine)
    assert [one.item for one in failed_checks(machine.reader().state(machine.job).safety)] == ["earth bond"]
    await machine.press("a")
    await check(machine, "earth bond")
    await machine.press("enter", "escape")
    assert "FAILED" not in said(machine)


@at_sizes(slow=[NARROW, WIDE])
async def test_a_visit_from_before_power_to_the_end(run: Run, bench: Bench, job: str, size: tuple[int, int]) -> None:
    real = Bench(bench.path, clock=lambda: NOON)
    async with run(size, on=real) as machine:
        await before_power(machine)

        # Rounds: a slip at lamp 3, which lights; column 3 of the switches is silent.
        await machine.press("tab")
        await typed(machine, "1", "2", "3-", "3", "4")
        await machine.press("shift+tab")
        await typed(machine, *["21", "22", "23", "24", "41", "42", "43", "44"], "c3-")
        assert "Switch column 3 is open" in said(machine)
        assert "8 of 8 tested switches of column 3 dead" in await answer(machine)

        # A bench check of its card, by its code.
        await machine.press("s", "k")
        checks = machine.app.screen
        assert isinstance(checks, ChecksScreen)
        await machine.press(*["down"] * [spot.code for spot in checks._spots].index("driver-open.Q3"))
        await machine.press("enter", "escape")
        assert "driver-open.Q3 good" in await answer(machine)

        # A wrong repair: the fault is out of the answer, its retest is due.
        await machine.press("escape")
        await repaired(machine, "Q3", "replaced to be sure")
        assert "Q3 repaired: replaced to be sure (retest due, 8 cells)" in await answer(machine)
        assert "Q3 repaired" in said(machine)
        assert "↻8" in machine.text()

        # A round over just these fails: open again.
        await machine.press("e")
        screen = machine.app.screen
        assert isinstance(screen, WalkScreen)
        assert len(screen.order) == 8
        await machine.press(*["minus"] * 8, "escape")
        assert "open again: the retest failed after Q3 was repaired (replaced to be sure)" in await answer(machine)
        assert "Switch column 3 is open" in said(machine)

        # The right repair, a retest that passes: closed by that repair.
        await repaired(machine, "X1-3", "pin bent back")
        assert "Contact X1-3 repaired: pin bent back (retest due, 8 cells)" in await answer(machine)
        await machine.press("e", *["enter"] * 8)
        assert "Closed by that repair" in said(machine)
        await machine.press("escape")
        assert "Contact X1-3 repaired: pin bent back (closed)" in await answer(machine)
        assert [machine.mark(cell) for cell in COLUMN] == [Mark.WORKING] * 8
        assert "↻" not in machine.text().split("\n")[1]

        # The old slip is struck out, and leaves no lamp that comes and goes.
        assert "comes and goes" in await answer(machine)
        await machine.press("h")
        history = machine.app.screen.query_one(History)
        while history.pointed is None or history.pointed.text != "lamp 3 (tram letter A) dead":
            await machine.press("down")
        await machine.press("backspace", "escape")
        assert "comes and goes" not in await answer(machine)

    state = real.state(job)
    assert [(one.place, one.outcome) for one in state.repairs] == [("Q3", "failed"), ("X1-3", "passed")]
    assert not any(one.intermittent for one in state.standings.values())
    real.close()
