"""Every command on a small invented machine: what it prints, what it records, that JSON is complete."""

from __future__ import annotations

import io
import itertools
import json
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from report_case import DIAGNOSIS, LAYOUT, LAYOUT_TEXT, START
from syrupy.assertion import SnapshotAssertion

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings

Run = Callable[..., str]


@pytest.fixture(autouse=True)
def _same_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC")
    monkeypatch.delenv("MATRIXCHECK_BOOK", raising=False)
    monkeypatch.setenv("COLUMNS", "80")
    time.tzset()


@pytest.fixture
def layout_file(tmp_path: Path) -> Path:
    path = tmp_path / "reed-warbler.toml"
    path.write_text(LAYOUT_TEXT)
    return path


@pytest.fixture(autouse=True)
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "bench.book"
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(path))
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that must succeed; what it printed."""

    def ran(*words: str, code: int = 0) -> str:
        got = main([*words])
        shown = capsys.readouterr()
        assert (got, shown.err) == (code, "")
        return shown.out

    return ran


@pytest.fixture
def job(book: Path) -> str:
    """A job with some results, a minute apart by a clock of its own."""
    minutes = itertools.count()
    bench = Bench(book, clock=lambda: START + timedelta(minutes=next(minutes)))
    opened = bench.new_job(LAYOUT, "Evening at the pond", serial="7/12", owner="Invented Club")
    bench.mark(opened, "switches", "1 2+1 3/1 4- 5- 11 8*")
    bench.repair(opened, "switches.r2c3", "new leaf")
    bench.safety(opened, "mains lead", passed=False, note="sheath cut")
    bench.close()
    return opened


@pytest.mark.parametrize("command", ["job list", "job show JOB", "status JOB", "later JOB", "log JOB"])
def test_what_people_read_is_as_it_was(command: str, run: Run, job: str, snapshot: SnapshotAssertion) -> None:
    shown = run(*command.replace("JOB", job).split()).replace(job, "pond")
    assert shown == snapshot
    assert max(map(len, shown.splitlines())) <= 80


@pytest.mark.parametrize("command", ["job list", "job show JOB", "status JOB", "later JOB", "log JOB", "suspects JOB"])
def test_every_list_is_also_json_of_format_1(command: str, run: Run, job: str) -> None:
    assert json.loads(run(*command.replace("JOB", job).split(), "--json"))["format"] == 1


def test_a_new_job_prints_its_id_and_nothing_else(run: Run, layout_file: Path, book: Path) -> None:
    printed = run("job", "new", str(layout_file), "--name", "One", "--serial", "7", "--owner", "Club")
    assert printed == f"{printed.strip()}\n"
    state = Bench(book).state(printed.strip())
    assert (state.name, state.serial, state.owner, state.layout) == ("One", "7", "Club", LAYOUT)


def test_a_job_can_be_opened_on_a_shipped_layout_by_its_name(run: Run) -> None:
    job = run("job", "new", "saltmarsh-tram", "--name", "Tram").strip()
    assert "Saltmarsh Tram" in run("job", "show", job)


def test_the_book_may_be_named_before_and_after_the_command(run: Run, layout_file: Path, tmp_path: Path) -> None:
    other = str(tmp_path / "other.book")
    job = run("job", "new", str(layout_file), "--name", "One", "--book", other).strip()
    assert job in run("--book", other, "job", "list")
    assert job not in run("job", "list")


def test_an_empty_book_is_said_to_be_empty_and_is_not_made(run: Run, book: Path) -> None:
    assert "job new" in run("job", "list")
    assert json.loads(run("job", "list", "--json")) == {"format": 1, "jobs": []}
    assert not book.exists()


def test_marks_are_kept_in_the_order_typed(run: Run, job: str, book: Path) -> None:
    assert run("mark", job, "switches", "6", "12-", "7.").splitlines() == [
        "kept  switch 6 (pond 3)  working",
        "kept  switch 12 (jetty <& co>)  dead",
        "kept  switch 7 (kiosk)  untested, put off",
    ]
    kept = json.loads(run("mark", job, "switches", "6-", "--json"))["kept"]
    assert [(one["number"], one["mark"], one["before"]) for one in kept] == [(6, "dead", "working")]
    assert Bench(book).status(job)["switches"].dead == 5


def test_readings_come_from_a_file_or_from_standard_input(
    run: Run, job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = '{"matrix": "doors", "cell": 1, "answered": [1]}\n'
    file = tmp_path / "door.jsonl"
    file.write_text(line)
    assert run("mark", job, "--readings", str(file)) == "kept  direct input 1 (coin door)  working\n"
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(line.replace("[1]", "[]").encode())))
    assert run("mark", job, "--readings", "-") == "kept  direct input 1 (coin door)  dead, comes and goes\n"


def test_a_rest_scan_says_what_shows_with_nothing_pressed(run: Run, job: str) -> None:
    assert run("rest", job, "switches", "7") == "kept  rest scan\n"
    cells = json.loads(run("job", "show", job, "--json"))["matrices"][0]["cells"]
    assert next(cell["mark"] for cell in cells if cell["number"] == 7) == "stuck"


def test_an_undo_takes_back_the_last_line_and_says_what(run: Run, job: str) -> None:
    before = run("status", job, "--json")
    run("mark", job, "switches", "6", "12-")
    assert run("undo", job) == "undone  switch 6 (pond 3) answered\nundone  switch 12 (jetty <& co>) dead\n"
    assert run("status", job, "--json") == before
    assert "[undone since]" in " ".join(run("log", job).split())
    assert [line["withdrawn"] for line in json.loads(run("log", job, "--json"))["log"]][-3:] == [True, True, False]


def test_cells_are_put_off_with_their_reason(run: Run, job: str) -> None:
    run("defer", job, "switches", "6", "r1c3", "--reason", "ball is lost")
    later = {item["cell"]: item["reason"] for item in json.loads(run("later", job, "--json"))["later"]}
    assert later["switches.r3c2"] == later["switches.r1c3"] == "deferred: ball is lost"


def test_findings_repairs_safety_checks_and_notes_reach_the_report(run: Run, job: str) -> None:
    run("finding", job, "Q2", "good", "--note", "swapped")
    said = "kept  Q1 repaired; 3 cells are due to be tested again\n"
    assert run("repair", job, "Q1") == f"{said}next  matrixcheck retest {job}\n"
    run("safety", job, "earth bond", "--passed", "--note", "0.1 ohm")
    run("note", job, "the jetty is bent")
    report = " ".join(run("report", job).split())
    for told in (
        "transistor Q2 good swapped", "The transistor Q1: repaired.", "earth bond passed 0.1 ohm", "the jetty is bent",
        "mains lead FAILED sheath cut",
    ):  # fmt: skip
        assert told in report


def test_a_check_is_recorded_by_its_code_and_what_follows_is_said(run: Run, job: str) -> None:
    kept = run("finding", job, "wire.switches.c2", "30", "--note", "at the hinge")
    assert kept.startswith("kept  wire.switches.c2 in between (30 ohms)\n")
    assert "isn't dead from that" in kept
    assert "kept  board.switches.c2 good" in run("finding", job, "board.switches.c2", "good")
    assert "bench check: board.switches.c2 good" in run("log", job)
    assert "wire.switches.c2 in between (30 ohms) (at the hinge)" in " ".join(run("log", job).split())


def test_a_place_is_still_recorded_by_its_name(run: Run, job: str) -> None:
    kept = run("finding", job, "switches.c2", "good", "--by", "first wire")
    assert kept == "kept  switch column 2 wire good by 'first wire'\n"
    assert run("finding", job, "Q2", "faulty") == "kept  Q2 faulty\n"


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        (("wire.switches.c9", "good"), "no bench check is called 'wire.switches.c9'"),
        (("wire.switches.c2", "three"), "can't read 'three' as ohms"),
        (("band.switches.4", "0.3"), "band.switches.4 is not judged by a value"),
        (("Q2", "0.3"), "'0.3' is not a result"),
    ],
)
def test_a_finding_that_can_not_be_kept_is_a_line_of_error(
    job: str, capsys: pytest.CaptureFixture[str], typed: tuple[str, str], message: str
) -> None:
    assert main(["finding", job, *typed]) == 2
    assert message in capsys.readouterr().err


def test_the_checks_of_a_job_are_a_work_list_by_card_and_as_json(
    run: Run, job: str, capsys: pytest.CaptureFixture[str]
) -> None:
    listed = run("checks", job, "--all")
    assert "POWER OFF" in listed
    assert f"matrixcheck finding {job} CODE good" in listed
    assert max(map(len, listed.splitlines())) <= 80
    data = json.loads(run("checks", job, "--all", "--json"))
    assert data["format"] == 1
    codes = [step["check"]["code"] for group in data["groups"] for step in group["steps"]]
    assert codes
    assert all(f"{code}  " in listed for code in codes)
    card = next(number for group in data["groups"] for step in group["steps"] for number in step["cards"])
    ours = json.loads(run("checks", job, str(card), "--json"))
    assert all(card in step["cards"] for group in ours["groups"] for step in group["steps"])
    run("finding", job, codes[0], "good")
    assert main(["checks", job, "99"]) == 2
    assert "no card 99" in capsys.readouterr().err


def test_the_suspects_of_a_job_are_printed_in_the_shape_of_the_contract(
    run: Run, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Bench, "diagnosis", lambda _self, asked, _limit: DIAGNOSIS if asked == job else None)
    found = json.loads(run("suspects", job, "--json"))
    assert [card["suspect"] for card in found.pop("answer")["cards"]] == ["", "s1", ""]
    assert found == json.loads(json.dumps(to_json(DIAGNOSIS)))


def test_the_suspects_of_a_job_read_as_they_did(
    run: Run, job: str, monkeypatch: pytest.MonkeyPatch, snapshot: SnapshotAssertion
) -> None:
    monkeypatch.setattr(Bench, "diagnosis", lambda _self, _job, _limit: DIAGNOSIS)
    assert run("suspects", job) == snapshot


def test_one_card_is_printed_in_full_by_its_number_and_all_of_them_with_all(
    run: Run, job: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(Bench, "diagnosis", lambda _self, _job, _limit: DIAGNOSIS)
    one, whole = run("suspects", job, "2"), run("suspects", job, "--all")
    for words in ("Switch column 2 is open", "switch 4 (pond 1): dead", "rivals", "faulty if: a diode drop"):
        assert words in one
        assert words in whole
    assert "Safety check failed" not in one
    assert "Safety check failed" in whole
    assert main(["suspects", job, "4"]) == 2
    assert capsys.readouterr() == ("", "no card 4: take one of 1 to 3\n")


def test_the_suspects_of_a_job_come_from_its_own_readings(run: Run, job: str) -> None:
    found = json.loads(run("suspects", job, "--json"))
    marks = {cell["cell"]: cell["mark"] for cell in found["cells"]}
    cells = json.loads(run("job", "show", job, "--json"))["matrices"]
    assert marks == {cell["cell"]: cell["mark"] for matrix in cells for cell in matrix["cells"]}
    assert "6 cells untested" in " ".join(run("suspects", job).split())


@pytest.mark.parametrize("command", ["suspects JOB", "report JOB", "diagnose saltmarsh-tram READINGS"])
def test_a_limit_in_seconds_that_cuts_the_search_short_is_said_first(
    command: str, run: Run, job: str, tmp_path: Path
) -> None:
    readings = tmp_path / "x.jsonl"
    readings.write_text('{"matrix": "switches", "cell": 11, "answered": []}\n' * 3)
    words = [{"JOB": job, "READINGS": str(readings)}.get(word, word) for word in command.split()]
    answer = run(*words, "--seconds", "0.001")
    assert "Stopped early" not in run(*words)
    assert answer.count("Stopped early") == 1
    if "report" not in command:
        assert answer.startswith("Stopped early")


def test_json_says_whether_the_search_was_finished(run: Run, job: str) -> None:
    cut, whole = (json.loads(run("suspects", job, "--json", *limit)) for limit in (("--seconds", "0.001"), ()))
    assert (cut["searched"]["finished"], whole["searched"]["finished"]) == (False, True)


@pytest.mark.parametrize("seconds", ["soon", "nan", "inf", "0", "-1", "1e9"])
@pytest.mark.parametrize("command", ["suspects JOB", "report JOB", "diagnose saltmarsh-tram x.jsonl"])
def test_a_limit_that_nobody_can_keep_to_is_one_line_of_error(
    command: str, seconds: str, job: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*command.replace("JOB", job).split(), "--seconds", seconds]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.count("\n") == 1
    assert "--seconds" in shown.err


def test_predicted_readings_lead_back_to_the_fault(
    run: Run, layout_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = run("predict", str(layout_file), "--fault", "open:Q2")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
    found = json.loads(run("diagnose", str(layout_file), "-", "--json"))
    likeliest = found["explanations"][0]["suspects"]
    members = [one for each in found["suspects"] if each["id"] in likeliest for one in each["members"]]
    assert ("open", "Q2") in [(one["fault"], one["part"]) for one in members]


def test_predicted_readings_name_what_is_held_and_keep_to_one_matrix(run: Run, layout_file: Path) -> None:
    text = run("predict", str(layout_file), "--matrix", "switches", "--held", "1,r2c2")
    readings = read_readings(text, parse_layout(LAYOUT_TEXT, "x"), "x")
    assert {reading.matrix for reading in readings} == {"switches"}
    assert {tuple(key.address for key in reading.held) for reading in readings} == {("r1c1", "r2c2")}
    exercised = [reading.cell for reading in readings]
    assert exercised.count(None) == 1
    assert len(exercised) == len(set(exercised)) == 1 + 10 - 2


def test_a_coil_that_was_measured_warm_is_judged_at_20_degrees(run: Run, tmp_path: Path) -> None:
    """4.2 ohms are due: 5.1 are too many at 20 degrees, and just right at 75 (IEC 60028)."""
    readings = tmp_path / "x.jsonl"
    readings.write_text('{"matrix": "coils", "cell": 2, "ohms": 5.1}\n')
    words = ("diagnose", "saltmarsh-tram", str(readings), "--json")
    cold, warm = (json.loads(run(*words, "--celsius", celsius)) for celsius in ("20", "75"))
    assert [each["members"][0]["fault"] for each in cold["suspects"]] == ["wrong-device"]
    assert warm["suspects"] == []


def test_a_diagnosis_needs_no_book(run: Run, layout_file: Path, tmp_path: Path, book: Path) -> None:
    readings = tmp_path / "x.jsonl"
    readings.write_text('{"matrix": "switches", "cell": 1, "answered": [1]}\n')
    assert "No fault found in what was tested" in run("diagnose", str(layout_file), str(readings))
    assert not book.exists()


def test_a_sound_layout_is_said_to_be_sound(run: Run, layout_file: Path) -> None:
    assert run("layout", "check", str(layout_file)) == f"{layout_file}: no problems found\n"
    assert json.loads(run("layout", "check", str(layout_file), "--json")) == {
        "format": 1,
        "problems": [],
        "diagnostics": [],
    }


def test_problems_of_a_layout_are_listed_on_stdout_and_told_by_exit_code_1(run: Run, layout_file: Path) -> None:
    layout_file.write_text(LAYOUT_TEXT.replace("strobe", "x").replace("chain = [6, 4, 5]", "chian = [6]\nwire = 'ZZ'"))
    lines = run("layout", "check", str(layout_file), code=1).splitlines()
    assert len(lines) == 2
    assert all(line.startswith(f"{layout_file}:") for line in lines)
    problems = json.loads(run("layout", "check", str(layout_file), "--json", code=1))["problems"]
    assert [problem["nearest"] for problem in problems if "chian" in problem["key"]] == ["chain"]


@pytest.mark.parametrize(
    ("form", "start"), [("html", "<!doctype html>"), ("csv", "matrix,"), ("json", "{"), ("md", "# ")]
)
def test_a_report_goes_to_a_file_or_to_standard_output(
    form: str, start: str, run: Run, job: str, tmp_path: Path
) -> None:
    file = tmp_path / f"sheet.{form}"
    assert run("report", job, "--to", str(file)) == ""
    written = file.read_bytes().decode()
    assert written.startswith(start)
    assert run("report", job, "--to", f"-.{form}").startswith(start)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bench.book", file.name]


@pytest.mark.usefixtures("job")
def test_a_sound_book_is_proved_sound(run: Run, book: Path) -> None:
    assert run("book", "verify") == f"{book}: no problems found, 10 events\n"


def test_an_open_round_is_shown_with_its_job(run: Run, job: str, book: Path) -> None:
    assert json.loads(run("job", "show", job, "--json"))["rounds"] == []
    bench = Bench(book)
    bench.start_round(job, "switches", "hold", [LAYOUT.matrix("switches").by_number[1].key])
    bench.close()
    (shown,) = json.loads(run("job", "show", job, "--json"))["rounds"]
    assert (shown["matrix"], shown["kind"], shown["held"]) == ("switches", "hold", ["switches.r1c1"])
    assert "round    hold of switches" in run("job", "show", job)


def test_a_job_is_shown_one_matrix_at_a_time_when_asked(run: Run, job: str) -> None:
    assert "coin door" not in run("job", "show", job, "--matrix", "switches")
    assert "left lane" not in run("job", "show", job, "--matrix", "doors")


def test_colour_is_left_out_where_it_is_unwanted(run: Run, job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert "\x1b[" in run("job", "show", job)
    monkeypatch.setenv("NO_COLOR", "1")
    shown = run("job", "show", job)
    assert "48;" not in shown
    assert "✓w" in shown


@pytest.mark.parametrize("words", [["open"], []])
def test_the_screens_open_on_the_book_that_was_asked_for(
    words: list[str], run: Run, job: str, book: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened: list[tuple[Path, str | None]] = []
    monkeypatch.setattr("matrixcheck.tui.run.run", lambda path, name, **_: opened.append((path, name)) or 0)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    run(*words)
    run("open", job)
    assert opened == [(book, None), (book, job)]
