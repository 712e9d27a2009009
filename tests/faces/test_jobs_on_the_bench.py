"""Jobs on the bench under real keys: found as one types, put right, closed, put away, and a machine that comes back."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from pilots import AT_EACH_SIZE, NOON, CannedBench, Machine, Run

from matrixcheck.bench import JobSummary
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.tui.screens.bench import BenchScreen
from matrixcheck.tui.screens.compare import CompareScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.widgets.job_list import JobList
from tests.machines import saltmarsh_tram
from tests.samples import some_of


def keys(text: str) -> list[str]:
    """The keys of a text."""
    named = {" ": "space", ".": "full_stop", ",": "comma"}
    return [named.get(sign, sign) for sign in text]


def said(machine: Machine) -> str:
    """The screen as one line."""
    return " ".join(machine.text().replace("▌", " ").split())


def listed(machine: Machine) -> list[str]:
    """The names of the jobs that the list holds, from the top."""
    jobs = machine.app.screen.query_one(JobList)
    names = {one.id: one.name for one in machine.reader().jobs()}
    return [names[jobs.job_at(place)] for place in range(jobs.count)]


def one(machine: Machine, name: str) -> JobSummary:
    """The job of that name."""
    return next(job for job in machine.reader().jobs() if job.name == name)


@pytest.fixture
def several(tmp_path: Path) -> CannedBench:
    """A bench with three machines, worked on one after the other; the first came back."""
    now = [NOON]
    bench = CannedBench(tmp_path / "several.book", clock=lambda: now[0])
    tram = saltmarsh_tram()
    for name, serial, owner in (("Quay", "1187", "F. Pier"), ("Attic", "2201", "M. Sand"), ("Quay again", "1187", "")):
        now[0] += timedelta(days=40)
        job = bench.new_job(tram, name, serial, owner)
        bench.mark(job, "switches", "31-" if name == "Quay" else "31 32")
    return bench


@AT_EACH_SIZE
async def test_each_job_is_a_line_with_what_there_is_to_know_the_newest_first(
    run: Run, several: CannedBench, size: tuple[int, int]
) -> None:
    quay = next(job.id for job in several.jobs("1187") if job.name == "Quay")
    several.repair(quay, "Q3")
    several.mark(quay, "lamps", "11-")
    several.start_round(quay, "lamps", "walk")
    async with run(size, at="bench", on=several, of=quay) as machine:
        assert listed(machine) == ["Quay", "Quay again", "Attic"]
        text = said(machine)
        assert "1/169 ✗1 ↻1 walk 2027-03-21" in text
        assert "serial 1187 · F. Pier" in text
        assert "open: walk of lamps" in text


@AT_EACH_SIZE
@pytest.mark.parametrize(
    ("typed", "found"),
    some_of(
        [
            ("att", ["Attic"]),
            ("1187", ["Quay again", "Quay"]),
            ("sand", ["Attic"]),
            ("quay PIER", ["Quay"]),
            ("zz", []),
        ],
        2,
    ),
)
async def test_a_job_is_found_as_one_types(
    run: Run, several: CannedBench, typed: str, found: list[str], size: tuple[int, int]
) -> None:
    async with run(size, at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("f", *keys(typed))
        assert listed(machine) == found
        if not found:
            assert f"No job has {typed}" in said(machine)
            return
        await machine.press("enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.app.screen.desk.state.name == found[0]


async def test_letters_are_typed_while_a_job_is_looked_for_and_keys_again_after(run: Run, several: CannedBench) -> None:
    async with run(at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("f", "q", "n", "backspace", "down", "escape")
        assert listed(machine) == ["Quay again", "Attic", "Quay"]
        assert machine.app.screen.query_one(JobList).here == 2
        await machine.press("n")
        assert not isinstance(machine.app.screen, BenchScreen)


@AT_EACH_SIZE
async def test_name_serial_number_and_owner_are_put_right(
    run: Run, several: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("j", *keys(", front room"), "down", "9", "down", *keys("M. Sand"), "enter")
        edited = one(machine, "Quay again, front room")
        assert (edited.serial, edited.owner) == ("11879", "M. Sand")
        assert "kept: job edited" in said(machine)


async def test_a_job_keeps_some_name_and_a_form_that_is_left_changes_nothing(run: Run, several: CannedBench) -> None:
    async with run(at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("j", *["backspace"] * 10, "enter")
        assert "a name is needed" in said(machine)
        await machine.press("x", "escape")
        assert [job.name for job in machine.reader().jobs()] == ["Quay again", "Attic", "Quay"]
        await machine.press("j", "enter")
        assert several.state(several.jobs()[0].id).number_of(10**9) == 4, "nothing changed, nothing recorded"


@AT_EACH_SIZE
async def test_a_job_is_closed_with_a_verdict_and_reopened_with_the_same_key(
    run: Run, several: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("f7", *keys("works"), "enter")
        assert one(machine, "Quay again").verdict == "works"
        assert "closed: works" in said(machine)
        await machine.press("f7")
        assert one(machine, "Quay again").verdict is None
        assert "kept: job reopened" in said(machine)


@AT_EACH_SIZE
async def test_an_archived_job_is_hidden_shown_again_and_never_deleted(
    run: Run, several: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, at="bench", on=several, of=several.jobs()[0].id) as machine:
        events = machine.reader().verify()
        await machine.press("f8")
        assert listed(machine) == ["Attic", "Quay"]
        assert machine.reader().verify() == events + 1
        await machine.press("tab")
        assert listed(machine) == ["Quay again", "Attic", "Quay"]
        await machine.press("up")
        assert " archived " in said(machine).partition("Enter")[0]
        await machine.press("f8", "tab")
        assert listed(machine) == ["Quay again", "Attic", "Quay"]


@AT_EACH_SIZE
async def test_another_visit_starts_from_the_last_and_shows_the_machines_history(
    run: Run, several: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, at="bench", on=several, of=several.jobs()[0].id) as machine:
        assert "visit 2 of 2 of this machine; the one before: 31 Dec 2026, Quay" in said(machine)
        await machine.press("down", "down", "v", *keys(" once more"), "enter")
        assert isinstance(machine.app.screen, JobScreen)
        state = machine.app.screen.desk.state
        last = one(machine, "Quay again")
        assert (state.name, state.serial, state.previous) == ("Quay again once more", "1187", last.id)
        await machine.press("b")
        assert "visit 3 of 3 of this machine" in said(machine)


@AT_EACH_SIZE
async def test_what_changed_since_the_visit_before_stands_side_by_side(
    run: Run, several: CannedBench, size: tuple[int, int]
) -> None:
    async with run(size, at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("h")
        assert isinstance(machine.app.screen, CompareScreen)
        text = said(machine)
        assert "31 Dec 2026 21 Mar 2027" in text
        assert "✗ dead ✓ working" in text
        assert "∙ untested ✓ working" in text
        assert "switches: 2 changed" in text
        await machine.press("escape")
        assert isinstance(machine.app.screen, BenchScreen)


async def test_a_machine_that_came_once_has_nothing_to_compare_and_says_so(run: Run, several: CannedBench) -> None:
    async with run(at="bench", on=several, of=several.jobs()[0].id) as machine:
        await machine.press("down", "h")
        assert "no earlier visit of this machine is known" in said(machine)
        assert isinstance(machine.app.screen, BenchScreen)


async def test_the_same_serial_number_on_another_machine_is_no_visit_of_this_one(
    run: Run, several: CannedBench
) -> None:
    several.new_job(read_layout(find_layout("lamp-8x8")), "Another maker's", "1187")
    async with run(at="bench", on=several, of=several.jobs()[0].id) as machine:
        assert "visit" not in said(machine).partition("Enter")[0]
        await machine.press("h")
        assert "no earlier visit of this machine is known" in said(machine)


async def test_an_empty_bench_has_nothing_to_put_right(run: Run, tmp_path: Path) -> None:
    async with run(at="bench", on=CannedBench(tmp_path / "other.book")) as machine:
        await machine.press("j", "f7", "f8", "v", "h")
        assert isinstance(machine.app.screen, BenchScreen)
        assert "The bench is empty." in said(machine)


async def test_the_newest_of_many_jobs_are_on_one_screen_a_line_each(run: Run, bench: CannedBench) -> None:
    for number in range(40):
        bench.new_job(saltmarsh_tram(), f"Invented {number:02}")
    async with run(at="bench") as machine:
        lines = [line for line in machine.text().split("\n") if "Invented" in line]
        assert [line.strip(" ▌").split("  ")[0] for line in lines[:15]] == [
            f"Invented {39 - at:02}" for at in range(15)
        ]
        await machine.press("up")
        assert "Pier arcade, machine 4" in machine.text()
