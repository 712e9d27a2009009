"""A coil on at rest: nothing is offered before the coil fuse is recorded out, on the command line and in the report."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from matrixcheck.bench import Bench
from matrixcheck.cli.app import app
from matrixcheck.errors import UsageError
from matrixcheck.record.coil_lock import COIL_FUSE_OUT, lock_of
from matrixcheck.report.drawing.paper import PAPERS
from matrixcheck.report.page import page
from matrixcheck.report.plain import plain
from matrixcheck.report.reporting import report_of
from matrixcheck.report.sheet import Sheet, sheet_of
from tests.machines import saltmarsh_tram

STOP = "Switch off now. Take out the coil fuse. Leave it out until the short is found."
NOON = datetime(2026, 11, 21, 12, 0, tzinfo=UTC)
TRAM = saltmarsh_tram()


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench.book", clock=lambda: NOON)


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(TRAM, "Pier arcade")


def said(bench: Bench, *words: str) -> str:
    found = CliRunner().invoke(app, ["--book", str(bench.path), *words])
    assert found.exit_code == 0, found.output
    return " ".join(found.output.split())


def has_stopped(bench: Bench, job: str) -> bool:
    return bench.state(job).coils.stop


@pytest.mark.parametrize("entry", ["2*", "r2c1*"])
def test_a_stuck_coil_stops(bench: Bench, job: str, entry: str) -> None:
    bench.mark(job, "coils", entry)
    assert has_stopped(bench, job)


@pytest.mark.parametrize(("matrix", "shows"), [("coils", "18"), ("coils", ""), ("lamps", "11"), ("switches", "12")])
def test_a_flash_lamp_kept_warm_lamps_and_switches_at_rest_stop_nothing(
    bench: Bench, job: str, matrix: str, shows: str
) -> None:
    bench.rest_scan(job, matrix, shows)
    assert not has_stopped(bench, job)


@pytest.mark.parametrize("number", [22, 23])
def test_a_flash_lamp_that_nothing_keeps_warm_stops_as_a_coil_does(bench: Bench, job: str, number: int) -> None:
    cell = TRAM.matrix("coils").by_number[number]
    assert (cell.device, cell.notes.keep_warm) == ("flash lamp", None)
    bench.rest_scan(job, "coils", str(number))
    assert has_stopped(bench, job)
    bench.safety(job, COIL_FUSE_OUT, True)
    bench.mark(job, "coils", f"{number}*")
    assert has_stopped(bench, job)


def test_a_coil_that_fires_beside_another_is_not_on_at_rest(bench: Bench, job: str) -> None:
    bench.mark(job, "coils", "1+2 3/4 5-")
    assert not has_stopped(bench, job)


@pytest.mark.parametrize("item", [COIL_FUSE_OUT, "Coil fuse OUT"])
def test_the_fuse_recorded_out_goes_on_and_seen_on_again_stops_again(bench: Bench, job: str, item: str) -> None:
    bench.rest_scan(job, "coils", "2")
    bench.safety(job, "mains lead", passed=True)
    assert has_stopped(bench, job)
    bench.safety(job, item, passed=True)
    assert not has_stopped(bench, job)
    bench.rest_scan(job, "coils", "2 3")
    assert has_stopped(bench, job)


def test_a_fuse_recorded_before_the_coil_was_seen_on_doesnt_count(bench: Bench, job: str) -> None:
    bench.safety(job, COIL_FUSE_OUT, passed=True)
    bench.rest_scan(job, "coils", "2")
    assert has_stopped(bench, job)


def test_a_fuse_recorded_back_in_stops_again(bench: Bench, job: str) -> None:
    bench.rest_scan(job, "coils", "2")
    bench.safety(job, COIL_FUSE_OUT, passed=True)
    bench.safety(job, COIL_FUSE_OUT, passed=False)
    assert has_stopped(bench, job)


def test_undo_takes_back_the_coil_and_the_record(bench: Bench, job: str) -> None:
    bench.rest_scan(job, "coils", "2")
    bench.safety(job, COIL_FUSE_OUT, passed=True)
    bench.undo(job)
    assert has_stopped(bench, job)
    bench.undo(job)
    assert bench.state(job).coils.coils == frozenset()


def test_only_a_repair_of_that_matrix_and_a_quiet_rest_scan_end_it(bench: Bench, job: str) -> None:
    bench.rest_scan(job, "coils", "2")
    bench.safety(job, COIL_FUSE_OUT, passed=True)
    bench.rest_scan(job, "coils")
    assert bench.state(job).coils.coils
    bench.repair(job, "Q17")
    bench.rest_scan(job, "coils")
    assert bench.state(job).coils.coils
    bench.repair(job, "Q32")
    bench.rest_scan(job, "switches")
    assert bench.state(job).coils.coils
    bench.rest_scan(job, "coils")
    assert not bench.state(job).coils.coils


def test_no_round_starts_in_any_matrix_while_it_is_on(bench: Bench, job: str) -> None:
    bench.rest_scan(job, "coils", "2")
    for matrix in TRAM.matrix_ids:
        with pytest.raises(UsageError, match="Switch off now"):
            bench.start_round(job, matrix, "walk")
    bench.safety(job, COIL_FUSE_OUT, passed=True)
    bench.start_round(job, "switches", "walk")
    with pytest.raises(UsageError, match="coil fuse is out"):
        bench.start_round(job, "coils", "walk")
    bench.repair(job, "Q32")
    with pytest.raises(UsageError, match="rest scan"):
        bench.start_round(job, "coils", "walk")
    bench.start_round(job, "coils", "rest")


@pytest.mark.parametrize("command", ["suspects", "status", "later"])
def test_the_command_line_says_only_that(bench: Bench, job: str, command: str) -> None:
    bench.mark(job, "switches", "11- 12- 13-")
    bench.rest_scan(job, "coils", "2")
    record = f'Then record it: matrixcheck safety {job} "{COIL_FUSE_OUT}" --passed'
    assert said(bench, command, job) == f"{STOP} {record}"
    data = json.loads(said(bench, command, job, "--json"))
    assert (data["danger"], data["stop"]) == (STOP, True)
    assert not any(data.get(steps) for steps in ("next", "checks", "later"))
    said(bench, "safety", job, COIL_FUSE_OUT, "--passed")
    after = said(bench, command, job)
    assert STOP not in after
    assert after != ""
    assert json.loads(said(bench, command, job, "--json"))["stop"] is False


@pytest.mark.parametrize("words", [("mark", "{}", "coils", "2*"), ("rest", "{}", "coils", "2")])
def test_the_command_that_records_it_says_so_before_all_else(bench: Bench, job: str, words: tuple[str, ...]) -> None:
    assert said(bench, *(word.format(job) for word in words)).startswith(STOP)
    assert has_stopped(bench, job)


def test_after_the_fuse_no_coil_is_powered_and_other_matrices_go_on(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "11- 12- 13-")
    bench.rest_scan(job, "coils", "2")
    assert bench.diagnosis(job).next == bench.diagnosis(job).checks == ()
    bench.safety(job, COIL_FUSE_OUT, passed=True)
    found = bench.diagnosis(job)
    assert found.danger.startswith("The coil fuse is out.")
    assert found.next
    assert all(test.matrix != "coils" for test in found.next)
    looking = [check for check in found.checks if any(line.matrix == "coils" for f in check.splits for line in f.lines)]
    assert looking
    assert not any(check.power for check in looking)
    bench.repair(job, "Q32")
    first = bench.diagnosis(job).next[0]
    assert (first.matrix, first.cell, first.held) == ("coils", None, ())


def as_page(sheet: Sheet) -> str:
    return page(report_of(sheet, PAPERS["a4"]), PAPERS["a4"])


@pytest.mark.parametrize("form", [plain, as_page])
def test_the_report_says_it_first_and_offers_no_step(bench: Bench, job: str, form: Callable[[Sheet], str]) -> None:
    bench.mark(job, "switches", "11- 12- 13-")
    before = form(sheet_of(bench, job, NOON)).casefold()
    bench.rest_scan(job, "coils", "2")
    stopped = " ".join(form(sheet_of(bench, job, NOON)).split())
    body = stopped.partition("<body>")[2] or stopped
    assert STOP in body[:200]
    for heading in ("what is wrong", "for later"):
        assert heading in before
        assert heading not in stopped.casefold()
    assert "POWER ON" not in stopped
    assert "power off" not in stopped


def test_readings_without_a_job_stop_too(tmp_path: Path) -> None:
    file = tmp_path / "readings.jsonl"
    file.write_text('{"matrix": "coils", "answered": [2]}\n', encoding="utf-8")
    runner = CliRunner()
    told = runner.invoke(app, ["diagnose", "saltmarsh-tram", str(file)]).output
    assert " ".join(told.split()) == f"{STOP} Then ask again with --coil-fuse-out."
    data = json.loads(runner.invoke(app, ["diagnose", "saltmarsh-tram", str(file), "--json"]).output)
    assert data["danger"] == STOP
    assert data["next"] == data["checks"] == []
    assert data["suspects"]
    told = runner.invoke(app, ["diagnose", "saltmarsh-tram", str(file), "--coil-fuse-out"]).output
    assert STOP not in told
    assert "Q32" in told


def test_readings_alone_never_end_it() -> None:
    bench_readings = ['{"matrix": "coils", "answered": [2]}', '{"matrix": "coils", "answered": []}']
    from matrixcheck.record.readings import read_readings  # noqa: PLC0415

    assert lock_of(read_readings("\n".join(bench_readings), TRAM, "here"), TRAM).stop
