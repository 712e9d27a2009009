"""Every screen as plain text at its sizes, and a few as SVG for their colours, against kept pictures."""

from __future__ import annotations

import pytest
from pilots import NARROW, PHONE, WIDE, CannedBench, Clock, Machine, Run, at_sizes, column_three, with_hold
from syrupy.assertion import SnapshotAssertion
from syrupy.extensions.single_file import SingleFileSnapshotExtension, WriteMode

READINGS = "11 12 13 14- 15 16 21 22 23 24- 25 26 31 32- 33- 34- 35- 36- 37- 41 42 43 44+31 51 52* 61. 62. 63=4.1"
SIZES = at_sizes(WIDE, NARROW, PHONE)  # all of them: a run that leaves out a picture takes it for one too many


class Svg(SingleFileSnapshotExtension):
    """One SVG file a picture."""

    file_extension = "svg"
    _write_mode = WriteMode.TEXT


@pytest.fixture(autouse=True)
def _a_job_half_done(bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    bench.mark(job, "switches", READINGS)


def picture(machine: Machine) -> str:
    """The screen as it would be drawn, for the colours."""
    return machine.app.export_screenshot(title="matrixcheck", simplify=True)


@SIZES
async def test_the_bench(run: Run, size: tuple[int, int], snapshot: SnapshotAssertion) -> None:
    async with run(size, at="bench") as machine:
        assert machine.text() == snapshot


@SIZES
async def test_a_new_job(run: Run, size: tuple[int, int], snapshot: SnapshotAssertion) -> None:
    async with run(size, at="bench") as machine:
        await machine.press("n")
        assert machine.text() == snapshot


@SIZES
async def test_the_layout_put_right(run: Run, size: tuple[int, int], snapshot: SnapshotAssertion) -> None:
    async with run(size) as machine:
        await machine.press("j", "tab", *["down"] * 5, "end", "ctrl+u", *"16", "enter", *"14", "enter")
        assert machine.text() == snapshot


@SIZES
@pytest.mark.parametrize("matrix", ["switches", "lamps", "coils", "inputs", "lighting"])
async def test_the_job(run: Run, size: tuple[int, int], matrix: str, snapshot: SnapshotAssertion) -> None:
    async with run(size, matrix=matrix) as machine:
        assert machine.text() == snapshot


@SIZES
async def test_the_job_with_a_suspect_chosen_and_an_entry_refused(
    run: Run, size: tuple[int, int], snapshot: SnapshotAssertion
) -> None:
    async with run(size) as machine:
        await machine.press("s", "down", "down", "down")
        await machine.type("99")
        assert machine.text() == snapshot


@SIZES
async def test_help(run: Run, size: tuple[int, int], snapshot: SnapshotAssertion) -> None:
    async with run(size) as machine:
        await machine.press("question_mark")
        assert machine.text() == snapshot


ROUNDS = {
    "choosing": ("switches", "g"),
    "roll": ("switches", "g 1 2 7 enter l i g"),
    "walk": ("lamps", "g 1 enter enter enter minus"),
    "timed-walk": ("lamps", "g 2"),
    "timed-walk-running": ("lamps", "g 2 5 enter minus right"),
    "timed-walk-ended": ("lamps", "g 2 5 enter right right minus right escape"),
    "all-at-once": ("lamps", "g 3 3 enter enter"),
    "rest-scan": ("switches", "g 3 1 1 enter down"),
    "choosing-holds": ("switches", "g 4"),
    "hold-round": ("switches", "g 4 enter 2 1 space 3 2 enter enter 3 1 plus 2 2 enter"),
    "later": ("switches", "l"),
    "checks": ("switches", "s k"),
    "finding": ("switches", "f l i g"),
    "actions": ("switches", "x"),
    "safety": ("switches", "a enter minus t o o _ b i g enter"),
    "parts": ("switches", "p down minus down m enter"),
    "repair": ("switches", "f q 4 enter m"),
    "retest": ("switches", "minus m up q 1 enter e enter"),
    "log": ("switches", "w l i d _ s t u c k enter u h"),
    "note": ("switches", "w"),
    "reason": ("switches", "o"),
    "question": ("lamps", "g 3 enter"),
}


@SIZES
@pytest.mark.parametrize("name", ROUNDS)
async def test_a_round(
    run: Run, size: tuple[int, int], name: str, snapshot: SnapshotAssertion, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(with_hold))
    matrix, keys = ROUNDS[name]
    async with run(size, matrix=matrix, clock=Clock()) as machine:
        await machine.press(*keys.replace("_", "space").split())
        assert machine.text() == snapshot


async def test_the_colours_of_the_job(run: Run, snapshot: SnapshotAssertion) -> None:
    async with run(WIDE) as machine:
        await machine.press("s")
        assert picture(machine) == snapshot(extension_class=Svg)


async def test_the_colours_of_the_light_theme(run: Run, snapshot: SnapshotAssertion) -> None:
    async with run(NARROW) as machine:
        await machine.press("f12")
        assert picture(machine) == snapshot(extension_class=Svg)


async def test_the_shades_without_colours(
    run: Run, snapshot: SnapshotAssertion, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    async with run(NARROW) as machine:
        assert picture(machine) == snapshot(extension_class=Svg)


async def test_the_colours_of_a_roll_on_a_phone(run: Run, snapshot: SnapshotAssertion) -> None:
    async with run(PHONE) as machine:
        await machine.press(*"g1", *"27", "enter")
        assert picture(machine) == snapshot(extension_class=Svg)
