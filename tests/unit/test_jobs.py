"""Jobs are edited, closed, archived and found; a machine that is back starts from its last visit."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_case import BATCHES, LAYOUT, START, at, recorded
from rich.cells import cell_len

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.errors import UsageError
from matrixcheck.layout.reading import Mark
from matrixcheck.record.answers import summary
from matrixcheck.record.events import Event, body_of, event_from
from matrixcheck.record.job_files import job_text
from matrixcheck.record.replay import replay
from matrixcheck.report.tables import jobs_table


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    ticks = (START + timedelta(minutes=minute) for minute in count())
    bench = Bench(tmp_path / "bench.book", clock=lambda: next(ticks))
    yield bench
    bench.close()


def test_a_job_is_listed_with_what_is_tested_fails_is_due_and_open(bench: Bench) -> None:
    job = bench.new_job(LAYOUT, "lighthouse", serial="0417", owner="the harbour")
    bench.mark(job, "switches", "4 5- 8* 7 11")
    bench.mark(job, "switches", "4-")
    bench.repair(job, "switches.r2c2")
    bench.start_round(job, "lamps", "walk")
    (one,) = bench.jobs()
    assert (one.cells, one.tested, one.failing, one.retest_due) == (17, 4, 2, 1)
    assert one.rounds == ("walk of lamps",)
    assert one.worked_at == bench.state(job).history[-1].at
    assert (one.verdict, one.archived) == (None, False)


def test_the_job_worked_on_last_comes_first(bench: Bench) -> None:
    first, second, third = (bench.new_job(LAYOUT, name) for name in ("one", "two", "three"))
    assert [one.id for one in bench.jobs()] == [third, second, first]
    bench.note(first, "again")
    assert [one.id for one in bench.jobs()] == [first, third, second]


@given(st.lists(BATCHES, max_size=8))
def test_a_list_shows_what_the_events_say(batches: list[tuple[Event, ...]]) -> None:
    """Also after the way through the book's summaries, which no replay made."""
    events = [one._replace(event=event_from(one.event.kind, body_of(one.event))) for one in recorded(*batches)]
    with TemporaryDirectory() as folder:
        writer = Bench(Path(folder) / "bench.book")
        writer.import_job(job_text(events, {}), "a file")
        writer.close()
        reader = Bench(Path(folder) / "bench.book")
        assert reader.jobs() == (summary(replay(reader.state("job1").everything)),)
        reader.close()


def test_a_summary_that_was_altered_or_lost_is_not_believed(bench: Bench, tmp_path: Path) -> None:
    job = bench.new_job(LAYOUT, "lighthouse")
    other = bench.new_job(LAYOUT, "pier")
    bench.mark(job, "switches", "4 5-")
    truth = bench.jobs()
    bench.close()
    for change in ("UPDATE summary SET body = CAST(replace(body, 'pier', 'peer') AS BLOB)", "DELETE FROM summary"):
        connection = sqlite3.connect(tmp_path / "bench.book")
        connection.execute(change)
        connection.commit()
        connection.close()
        reader = Bench(tmp_path / "bench.book")
        assert reader.jobs() == truth
        reader.close()
    again = Bench(tmp_path / "bench.book")
    again.note(other, "written on")
    assert {one.id for one in again.jobs()} == {job, other}
    again.close()


def test_a_job_is_renamed_and_its_serial_and_owner_put_right(bench: Bench) -> None:
    job = bench.new_job(LAYOUT, "lighthouse", serial="0417", owner="the harbour")
    bench.edit_job(job, name="lantern", serial="0471")
    assert [(one.name, one.serial, one.owner) for one in bench.jobs()] == [("lantern", "0471", "the harbour")]
    bench.edit_job(job, owner="")
    assert bench.state(job).owner == ""
    assert bench.log(job)[-1].text == "job edited: owner none"
    bench.undo(job)
    assert bench.state(job).owner == "the harbour"
    for nothing in ({}, {"name": " "}):
        with pytest.raises(UsageError):
            bench.edit_job(job, **nothing)


def test_a_job_is_closed_with_a_verdict_and_reopened(bench: Bench) -> None:
    job = bench.new_job(LAYOUT, "lighthouse")
    with pytest.raises(UsageError, match="is open"):
        bench.reopen_job(job)
    bench.close_job(job, "runs; two lamps to do")
    assert bench.jobs()[0].verdict == "runs; two lamps to do"
    with pytest.raises(UsageError, match="is closed: runs"):
        bench.close_job(job, "again")
    bench.reopen_job(job)
    assert bench.jobs()[0].verdict is None


def test_an_archived_job_is_hidden_and_nothing_of_it_is_lost(bench: Bench) -> None:
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.mark(job, "switches", "4")
    before = bench.state(job).standings
    bench.archive_job(job)
    assert bench.jobs(archived=False) == ()
    assert [one.id for one in bench.jobs()] == [job]
    assert bench.state(job).standings == before
    with pytest.raises(UsageError, match="archived already"):
        bench.archive_job(job)
    bench.archive_job(job, hidden=False)
    assert [one.id for one in bench.jobs(archived=False)] == [job]


@pytest.mark.parametrize("words", ["lighthouse", "LIGHT", "0417", "harbour", "lantern pier", "pier 0417", ""])
def test_a_job_is_found_by_name_serial_owner_and_machine(bench: Bench, words: str) -> None:
    job = bench.new_job(LAYOUT, "Lighthouse", serial="0417", owner="the harbour")
    assert [one.id for one in bench.jobs(words)] == [job]
    assert bench.jobs(f"{words} elsewhere") == ()


def test_a_second_visit_starts_from_the_last_and_shows_what_changed(bench: Bench) -> None:
    first = bench.new_job(LAYOUT, "lighthouse", serial="Ab-7", owner="the harbour")
    bench.mark(first, "switches", "4 5- 8")
    for last in (first, "ab-7"):
        again = bench.visit_again(last)
        state = bench.state(again)
        assert (state.name, state.serial, state.owner) == ("lighthouse", "Ab-7", "the harbour")
        assert (state.layout, state.previous) == (LAYOUT, first)
        assert {one.mark for one in state.standings.values()} == {Mark.UNTESTED}
        bench.archive_job(again)
        bench.edit_job(again, serial="other")
    bench.mark(again, "switches", "4 5 8-")
    then, changes = bench.changed_since(again)
    assert then.id == first
    assert {one.now.cell.key: (one.then.mark, one.now.mark) for one in changes} == {
        at(2, 2): (Mark.DEAD, Mark.WORKING),
        at(2, 3): (Mark.WORKING, Mark.DEAD),
    }
    with pytest.raises(UsageError, match="no earlier visit"):
        bench.changed_since(first)
    assert bench.changed_since(first, first)[1] == ()


@pytest.mark.parametrize("width", [60, 78, 100, 160])
def test_every_job_is_listed_in_a_line_that_fits(bench: Bench, width: int) -> None:
    for number in range(4):
        job = bench.new_job(LAYOUT, f"a name that goes on and on, {number}", serial="S" * 30, owner="x")
        bench.mark(job, "switches", "4 5-")
    bench.close_job(job, "runs, and a few words more")
    lines = jobs_table(bench.jobs(), width).plain.splitlines()
    assert len(lines) == 2 + 4
    assert all(cell_len(line) <= width for line in lines)
    assert lines[2].startswith(f"{job}  a name")


def test_the_commands_edit_close_archive_and_compare(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))

    def run(*words: str, code: int = 0) -> str:
        assert main([*words]) == code
        shown = capsys.readouterr()
        return shown.err if code else shown.out

    job = run("job", "new", "saltmarsh-tram", "--name", "invented", "--serial", "INVENTED-7").strip()
    run("mark", job, "switches", "31-")
    run("job", "edit", job, "--owner", "nobody")
    assert run("job", "close", job, "parts wanted") == "kept  job closed: parts wanted\n"
    (one,) = json.loads(run("job", "list", "invented-7", "--json"))["jobs"]
    assert (one["owner"], one["verdict"], one["failing"], one["archived"]) == ("nobody", "parts wanted", 1, False)
    run("job", "reopen", job)
    again = run("job", "again", "INVENTED-7").strip()
    run("mark", again, "switches", "31")
    compared = run("job", "compare", again)
    assert "switches 31" in compared
    assert ("dead" in compared, "working" in compared) == (True, True)
    run("job", "archive", job)
    assert job not in run("job", "list")
    assert job in run("job", "list", "--all")
    assert run("job", "list", "nowhere") == "No such job. Archived ones: job list --all\n"
    run("job", "archive", job, "--back")
    assert job in run("job", "list")
    assert "give a name" in run("job", "edit", job, code=2)
