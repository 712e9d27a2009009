"""Who records: initials of each terminal and page, in the history and in what is kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from pilots import AT_EACH_SIZE, NOON, CannedBench, Machine, Run

from matrixcheck.bench import Bench
from matrixcheck.record.clients import page
from matrixcheck.report.plain import plain
from matrixcheck.report.sheet import sheet_of
from matrixcheck.tui import run as running
from matrixcheck.tui.app import MatrixCheckApp


def said(machine: Machine) -> str:
    """The screen as one line."""
    return " ".join(machine.text().split())


def signed(machine: Machine) -> list[str]:
    """The initials of each event of the job."""
    return [one.initials for one in machine.reader().state(machine.job).everything]


@AT_EACH_SIZE
async def test_initials_typed_on_the_bench_stand_beside_what_is_recorded_from_then_on(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size, at="bench") as machine:
        await machine.press("enter", "enter", "b", "f9", "q", "t", "enter")
        assert "recorded as qt" in machine.text()
        await machine.press("enter", "down", "enter", "h")
        assert signed(machine) == ["", "", "qt"]
        text = " ".join(machine.text().replace("▌", " ").split())
        assert "3 2026-11-21 12:00 qt switch 12 (ball trough 2) answered" in text
        assert "2 2026-11-21 12:00 - switch 11 (ball trough 1) answered" in text


@pytest.mark.parametrize("typed", ["abcde", "a1", "a b"])
async def test_what_is_no_initials_is_refused_in_one_line(run: Run, typed: str) -> None:
    async with run(at="bench") as machine:
        await machine.press("f9", *(sign if sign != " " else "space" for sign in typed), "enter")
        assert "is too long, or has more than letters" in said(machine)
        assert machine.bench.by.initials == ""


async def test_initials_are_taken_away_with_nothing_typed(run: Run, bench: CannedBench) -> None:
    bench.sign("QT")
    async with run(at="bench") as machine:
        assert "recorded as QT" in machine.text()
        await machine.press("f9", "backspace", "backspace", "enter")
        assert "recorded as" not in machine.text()


def test_each_page_goes_on_with_its_own_initials_and_a_new_one_with_those_that_are_set(
    bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = ("0123456789abcdef", "fedcba9876543210", "2222222222222222")
    for key, initials in zip(keys, ("AB", "CD", ""), strict=True):
        one = Bench(bench.path, clock=lambda: NOON, client=page(key))
        one.sign(initials)
        one.mark(job, "switches", "31")
        one.close()
    found: list[str] = []

    def opened(app: MatrixCheckApp) -> int:
        found.append(app._bench.by.initials)
        app.keeping.close()
        return 0

    monkeypatch.setattr(running, "_run", opened)
    for key in (*keys, "1111111111111111"):
        running.run(bench.path, client=page(key), initials="SET", as_before=True)
    running.run(bench.path, client=page(keys[0]), initials="SET")
    assert found == ["AB", "CD", "", "SET", "SET"]


def test_a_book_that_is_not_there_yet_gives_no_initials(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "none.book", client=page("0123456789abcdef"), initials="SET")
    bench.sign_as_before()
    assert bench.by.initials == "SET"
    assert not (tmp_path / "none.book").exists()
    bench.close()


def test_initials_of_each_client_stand_in_the_report(bench: CannedBench, job: str) -> None:
    for client, initials in (("page 1", "AB"), ("page 2", "CD")):
        one = Bench(bench.path, clock=lambda: NOON, client=client, initials=initials)
        one.mark(job, "switches", "31-")
        one.repair(job, "Q3", did="replaced")
        one.close()
    told = " ".join(plain(sheet_of(bench, job, NOON)).split())
    assert "Recorded by AB 2, CD 2, without initials 1." in told
    assert told.index("12:00 AB") < told.index("12:00 CD")
