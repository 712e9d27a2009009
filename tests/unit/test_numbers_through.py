"""Numbers with letters from the layout to the report: commands, files, and books that are older than they."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest
from record_case import START
from report_case import DIAGNOSIS, state_after

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.case import Case, case_data, read_case
from matrixcheck.record.events import JobOpened, body_of, event_from
from matrixcheck.record.readings import read_readings, write_readings
from matrixcheck.record.schema import MIGRATIONS, bring_up_to_date
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.spreadsheet import spreadsheet
from tests.signal_box import LAYOUT, SIGNAL_BOX, at

Run = Callable[..., str]

OLD_BODY = (
    '{"name":"bench 1","layout":{"format":1,"name":"Lantern Pier","matrix":['
    '{"id":"switches","kind":"switch","walk":[8,1],"cells":[["lamp post 1","gull","kiosk",""],'
    '["lamp post 2","crab","rope","bell"],["trough","tide","","anchor"]],'
    '"column":[{"label":"1","path":["U4-1","Q1","X5-1"],"chain":[3,1,2]},{"label":"2"},{"label":"3"},{"label":"4"}],'
    '"row":[{"label":"1","path":["U7-2","X6-1"]},{"label":"2"},{"label":"3"}],'
    '"cell":{"3":{"reach":"ball","rest":"closed"},"11":{"reach":"glass off"}}},'
    '{"id":"lamps","kind":"lamp","numbering":"listed","numbers":[[11,12,13],[21,22,0]],'
    '"cells":[["red","amber","green"],["pier","bulb",""]],'
    '"column":[{"label":"1"},{"label":"2"},{"label":"3"}],"row":[{"label":"1"},{"label":"2"}]}]}}'
)
"""An opening as a program wrote it that knew plain numbers only."""


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    """Give the machine as a file."""
    path = tmp_path / "signal-box.toml"
    path.write_text(SIGNAL_BOX)
    return path


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that must succeed in a book of the test; what it printed."""
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))

    def ran(*words: str) -> str:
        code = main([*words])
        shown = capsys.readouterr()
        assert (code, shown.err) == (0, "")
        return shown.out

    return ran


def test_a_number_goes_through_the_commands_from_layout_to_report(run: Run, layout_file: Path, tmp_path: Path) -> None:
    assert "no problems found" in run("layout", "check", str(layout_file))
    job = run("job", "new", str(layout_file), "--name", "Box").strip()
    assert run("mark", job, "switches", "9l-", "2+A-3", "a-", "a-3-") == (
        "kept  switch 9L (left rail)  dead\nkept  switch 2 (gate)  working\n"
        "kept  switch A (apron)  dead\nkept  switch A-3 (siding)  dead\n"
    )
    assert run("rest", job, "switches", "a-3") == "kept  rest scan\n"
    assert "switch D1 (upper door)" in run("defer", job, "switches", "d1,d10", "--reason", "later")
    assert "switch 9L (left rail) dead" in run("log", job)
    later = json.loads(run("later", job, "--json"))["later"]
    assert [item["number"] for item in later if item["cell"].startswith("switches")] == ["9R", 10, "D1", "D10"]
    kept = json.loads(run("mark", job, "switches", "9R", "10-", "--json"))["kept"]
    assert [one["number"] for one in kept] == ["9R", 10]
    assert "9L" in run("suspects", job, "--seconds", "60")
    html, table, whole = (str(tmp_path / name) for name in ("sheet.html", "cells.csv", "sheet.json"))
    run("report", job, "--to", html, "--to", table, "--to", whole)
    assert ">9L</text>" in Path(html).read_text()
    rows = list(csv.DictReader(io.StringIO(Path(table).read_text())))
    assert [row["number"] for row in rows][:8] == ["2", "9L", "9R", "10", "A", "A-3", "D1", "D10"]
    cells = json.loads(Path(whole).read_text())["diagnosis"]["cells"]
    assert [cell["number"] for cell in cells][:4] == [2, "9L", "9R", 10]
    assert "9L ✗d" in run("report", job)


def test_a_fault_is_foretold_and_found_again_by_its_number(run: Run, layout_file: Path, tmp_path: Path) -> None:
    seen = tmp_path / "seen.jsonl"
    seen.write_text(run("predict", str(layout_file), "--fault", "device-dead:switches.9l"))
    assert '"r2c1"' in seen.read_text()
    assert "9L (left rail)" in run("diagnose", str(layout_file), str(seen))


def test_a_readings_file_names_cells_by_number_or_address() -> None:
    text = (
        '{"matrix": "switches", "cell": "9l", "held": ["A-3"], "answered": ["9L", 10, "r2c2"]}\n'
        '{"matrix": "lamps", "cell": "U1", "mark": "dead"}\n'
    )
    readings = read_readings(text, LAYOUT, "evening")
    assert readings == (
        Reading(matrix="switches", cell=at(2, 1), held=(at(1, 3),), answered=(at(2, 1), at(1, 1), at(2, 2))),
        Reading(matrix="lamps", cell=at(1, 1, "lamps"), mark=Mark.DEAD),
    )
    assert read_readings(write_readings(readings, LAYOUT), LAYOUT, "again") == readings


def test_a_case_file_gives_the_layout_back() -> None:
    case = Case(LAYOUT, (Reading(matrix="switches", cell=at(2, 1), mark=Mark.DEAD),))
    assert read_case(json.dumps(case_data(case, {})), "case") == case


def test_a_book_gives_back_what_was_kept_under_such_numbers(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(LAYOUT, "Box")
    bench.mark(job, "switches", "9l- a-3 D10+9R")
    bench.close()
    fresh = Bench(tmp_path / "bench.book")
    state = fresh.state(job)
    assert state.layout == LAYOUT
    assert (state.standings[at(2, 1)].mark, state.standings[at(1, 3)].mark) == (Mark.DEAD, Mark.WORKING)
    assert fresh.verify() == 4


def test_an_opening_with_plain_numbers_is_kept_to_the_letter() -> None:
    assert body_of(event_from(JobOpened.kind, OLD_BODY)) == OLD_BODY


def test_an_old_book_with_plain_numbers_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "old.book"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    bring_up_to_date(connection, MIGRATIONS[:1])
    row = (1, "job1", 1, START.isoformat(), JobOpened.kind, OLD_BODY)
    link = sha256(bytes(32) + "\x1f".join(map(str, row)).encode()).digest()
    connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?)", (*row, link))
    connection.close()
    bench = Bench(path)
    assert [one.number for one in bench.mark("job1", "switches", "3- 11")] == [3, 11]
    assert bench.verify() == 3
    switches = bench.state("job1").layout.matrix("switches")
    assert switches.by_number[3].notes.reach == "ball"
    assert [cell.number for cell in switches.cells_of(switches.by_number[3].column_line)] == [3, 1, 2]
    assert [cell.number for cell in switches.in_walk_order][:3] == [8, 1, 2]


@pytest.mark.parametrize(
    ("number", "written"),
    [
        ("8L", "8L"),
        ("A-3", "A-3"),
        ("1E5", "'1E5"),
        ("1-2", "'1-2"),
        ("DEC1", "'DEC1"),
        ("MAY-3", "'MAY-3"),
        ("1EA", "1EA"),
    ],
)
def test_a_number_that_a_spreadsheet_would_count_or_date_stays_a_text(number: str, written: str) -> None:
    text = SIGNAL_BOX.replace('["10", "d1", "A-3"]', f'["10", "d1", "{number}"]').replace("cell.A-3", f"cell.{number}")
    state = state_after(JobOpened(name="Box", layout=parse_layout(text, "box")))
    diagnosis = DIAGNOSIS.model_copy(update={"cells": ()})
    table = spreadsheet(Sheet(state, diagnosis, coverage_of(state), later_list(state), START))
    rows = csv.DictReader(io.StringIO(table))
    assert next(row["number"] for row in rows if row["name"] == "siding") == written
