"""An empty bench says what this is and offers a way in: the demo, a chart, a layout."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pilots import AT_EACH_SIZE, PHONE, CannedBench, Machine, Run
from textual.widgets import Input

from matrixcheck.bench import Bench
from matrixcheck.cli.demo_book import demo_book
from matrixcheck.errors import UsageError
from matrixcheck.layout.files import read_layout
from matrixcheck.report.cautions import FIRST
from matrixcheck.tui import run as starting
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.screens.bench import BenchScreen
from matrixcheck.tui.screens.import_chart import ImportChartScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.new_job import NewJobScreen
from matrixcheck.tui.text.first_steps import ABOUT, Step
from tests.samples import some_of

CHART = ",1,2\n1,left lane,pond 1\n2,right lane,pond 2\n"


@pytest.fixture
def empty(tmp_path: Path) -> CannedBench:
    """A bench without a job."""
    return CannedBench(tmp_path / "own" / "bench.book")


def words(machine: Machine) -> str:
    """What stands on the screen, without its line breaks."""
    return " ".join(machine.text().split())


@AT_EACH_SIZE
async def test_an_empty_bench_says_what_this_is_what_can_be_done_and_the_caution(
    run: Run, empty: CannedBench, size: tuple[int, int], tmp_path: Path
) -> None:
    async with run(size, at="bench", on=empty, make_demo=lambda: tmp_path / "demo.book") as machine:
        assert "The bench is empty." in words(machine)
        for text in (ABOUT, FIRST, *(one for step in Step for one in (step.title, step.says))):
            assert text in words(machine)
        assert "…" not in machine.text()


@pytest.mark.parametrize("way", some_of(["1", "enter", "tap"], 1))
async def test_the_demo_is_shown_in_a_book_of_its_own(run: Run, empty: CannedBench, way: str) -> None:
    async with run(at="bench", on=empty, make_demo=lambda: demo_book(empty.path)) as machine:
        await (machine.tap(Step.DEMO.title) if way == "tap" else machine.press(way))
        await machine.until(lambda: machine.app.next_book is not None)
        demo = machine.app.next_book
    assert demo == empty.path.parent / "demo.book"
    assert not empty.path.exists()
    assert [job.serial for job in Bench(demo).jobs()] == ["INVENTED-0042"]


async def test_a_demo_that_cannot_be_made_is_said_and_the_bench_stays(run: Run, empty: CannedBench) -> None:
    def refuse() -> Path:
        raise UsageError("no room for the demo's book", "make room")

    async with run(at="bench", on=empty, make_demo=refuse) as machine:
        await machine.press("1")
        assert "no room for the demo's book" in words(machine)
        assert isinstance(machine.app.screen, BenchScreen)
        assert machine.app.next_book is None


async def test_the_demos_bench_says_that_it_is_invented_where_it_lies_and_how_to_go_back(
    run: Run, empty: CannedBench, tmp_path: Path
) -> None:
    demo = Bench(demo_book(empty.path))
    async with run(at="bench", on=demo, own_book=empty.path, make_demo=lambda: tmp_path) as machine:
        shown = "".join(machine.text().split())
        assert str(demo.path).replace(" ", "") in shown
        assert "everythinginitisinvented" in shown
        assert f"qgoesbackto{empty.path}" in shown
        await machine.press("enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert "INVENTED-0042" in words(machine)
        await machine.press("q")
        assert machine.app.next_book == empty.path


def test_the_demos_book_is_made_once_and_no_other_file_is_touched(tmp_path: Path) -> None:
    own = tmp_path / "data" / "bench.book"
    made = demo_book(own)
    before = made.read_bytes()
    assert demo_book(own) == made == own.parent / "demo.book"
    assert made.read_bytes() == before
    assert sorted(path.name for path in own.parent.iterdir()) == ["demo.book"]
    assert Bench(made).verify() > 50


@pytest.mark.parametrize("there", some_of(["a text", "another book", "one's own book", "a link to nowhere"], 2))
def test_a_file_of_that_name_that_is_no_demo_is_left_alone(there: str, tmp_path: Path) -> None:
    path = tmp_path / "demo.book"
    own = path if there == "one's own book" else tmp_path / "bench.book"
    if there == "a text":
        path.write_text("mine")
    elif there == "a link to nowhere":
        path.symlink_to(tmp_path / "nowhere")
    else:
        bench = Bench(path)
        bench.new_job(read_layout(Path(__file__).parents[2] / "layouts" / "switch-8x8.toml"), "Mine")
        bench.close()
    before = path.read_bytes() if path.exists() else b""
    assert demo_book(own) == tmp_path / "demo-2.book"
    assert (path.read_bytes() if path.exists() else b"") == before


def test_after_the_demo_ones_own_book_is_shown_again_and_the_theme_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own, demo = tmp_path / "own.book", tmp_path / "demo.book"
    seen: list[tuple[Path, bool, str]] = []

    def ran(app: MatrixCheckApp) -> int:
        seen.append((app._bench.path, app.own_book is not None, app.look.theme))
        app.next_book = {1: demo, 2: own}.get(len(seen))
        app.theme = "workshop-light"
        return 7 if len(seen) == 3 else 0

    monkeypatch.setattr(starting, "_run", ran)
    assert starting.run(own, client="here", make_demo=lambda: demo) == 7
    assert seen == [(own, False, "dark"), (demo, True, "light"), (own, False, "light")]


@pytest.mark.parametrize("way", some_of([["3"], ["down", "down", "enter"], ["up", "enter"]], 1))
async def test_a_layout_can_be_started_from_by_digit_or_arrows(run: Run, empty: CannedBench, way: list[str]) -> None:
    async with run(at="bench", on=empty, make_demo=lambda: empty.path) as machine:
        await machine.press(*way)
        assert isinstance(machine.app.screen, NewJobScreen)


async def test_over_the_network_no_file_is_named_and_no_demo_is_made(run: Run, empty: CannedBench) -> None:
    async with run(PHONE, at="bench", on=empty, own_layouts=False) as machine:
        assert Step.CHART.title not in words(machine)
        assert Step.DEMO.title not in words(machine)
        await machine.press("2")
        assert isinstance(machine.app.screen, BenchScreen)
        await machine.press("1")
        assert isinstance(machine.app.screen, NewJobScreen)


@AT_EACH_SIZE
async def test_a_chart_becomes_a_layout_and_then_a_job(
    run: Run, empty: CannedBench, size: tuple[int, int], tmp_path: Path
) -> None:
    chart = tmp_path / "chart.csv"
    chart.write_text(CHART)
    async with run(size, at="bench", on=empty, make_demo=lambda: empty.path) as machine:
        await machine.press("2")
        assert isinstance(machine.app.screen, ImportChartScreen)
        machine.app.screen.query_one("#chart", Input).value = str(chart)
        await machine.press("enter")
        assert "2 columns, 2 rows, 4" in words(machine)
        await machine.type("Pond")
        await machine.press("enter", "enter")
        written = tmp_path / "chart.toml"
        assert read_layout(written).name == "Pond"
        assert (tmp_path / "layout.schema.json").exists()
        assert isinstance(machine.app.screen, NewJobScreen)
        assert machine.app.screen.query_one("#layout", Input).value == str(written)
        await machine.type("First evening")
        await machine.press("enter", "enter")
        assert isinstance(machine.app.screen, JobScreen)
    assert [(job.name, job.machine) for job in Bench(empty.path).jobs()] == [("First evening", "Pond")]


@pytest.mark.parametrize(
    ("spoil", "says"),
    some_of(
        [
            ("missing", "chart.csv"),
            ("empty", "chart.csv is empty"),
            ("there", "is there already"),
            ("unnamed", "name the"),
        ],
        2,
    ),
)
async def test_a_chart_that_cannot_be_taken_is_said_and_nothing_is_written(
    run: Run, empty: CannedBench, tmp_path: Path, spoil: str, says: str
) -> None:
    chart = tmp_path / "chart.csv"
    files: dict[str, Any] = {"empty": "\n", "there": CHART}
    if spoil in files:
        chart.write_text(files[spoil])
    if spoil == "there":
        (tmp_path / "chart.toml").write_text("mine")
    async with run(at="bench", on=empty, make_demo=lambda: empty.path) as machine:
        await machine.press("2")
        machine.app.screen.query_one("#chart", Input).value = "" if spoil == "unnamed" else str(chart)
        await machine.press("enter")
        if spoil == "there":
            await machine.press("enter", "enter")
        assert says in words(machine)
        assert isinstance(machine.app.screen, ImportChartScreen)
        await machine.press("escape")
        assert isinstance(machine.app.screen, BenchScreen)
    assert not (tmp_path / "chart.toml").exists() or (tmp_path / "chart.toml").read_text() == "mine"


async def test_where_every_job_is_archived_that_is_said(run: Run, empty: CannedBench) -> None:
    job = empty.new_job(read_layout(Path(__file__).parents[2] / "layouts" / "switch-8x8.toml"), "Away")
    empty.archive_job(job)
    async with run(at="bench", on=empty, make_demo=lambda: empty.path) as machine:
        assert "Every job of this book is archived." in words(machine)
        await machine.press("1")
        assert machine.app.next_book is None
