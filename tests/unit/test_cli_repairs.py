"""Repairs, retests and corrections from the command line, on the invented machine that comes with the program."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from matrixcheck.cli.main import main

Run = Callable[..., str]


@pytest.fixture(autouse=True)
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "bench.book"
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(path))
    monkeypatch.setenv("MATRIXCHECK_INITIALS", "AB")
    monkeypatch.setenv("COLUMNS", "100")
    return path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command; what it printed, its error line for one that must fail."""

    def ran(*words: str, code: int = 0) -> str:
        got = main([*words])
        shown = capsys.readouterr()
        assert got == code, shown.err
        return shown.err if code else shown.out

    return ran


@pytest.fixture
def job(run: Run) -> str:
    return run("job", "new", "saltmarsh-tram", "--name", "invented").strip()


def outcomes(run: Run, job: str, path: Path) -> list[tuple[str, str]]:
    run("report", job, "--to", str(path), "--seconds", "0.001")
    return [(one["place"], one["outcome"]) for one in json.loads(path.read_text())["repairs"]]


def test_a_wrong_repair_stays_open_and_the_right_one_is_closed_by_its_retest(
    run: Run, job: str, tmp_path: Path
) -> None:
    sheet = tmp_path / "sheet.json"
    run("mark", job, "switches", "c3-")
    said = run("repair", job, "q3", "--did", "transistor replaced", "--fitted", "an equal one", "--value", "hFE 200")
    assert said == f"kept  Q3 repaired; 8 cells are due to be tested again\nnext  matrixcheck retest {job}\n"
    assert outcomes(run, job, sheet) == [("Q3", "retest due")]
    run("mark", job, "switches", "c3-")
    assert outcomes(run, job, sheet) == [("Q3", "failed")]
    run("repair", job, "contact X1-3", "--did", "pin bent back")
    assert outcomes(run, job, sheet) == [("Q3", "failed"), ("X1-3", "retest due")]
    run("mark", job, "switches", "c3")
    assert outcomes(run, job, sheet) == [("Q3", "failed"), ("X1-3", "passed")]
    log = run("log", job)
    assert "repair: Q3; transistor replaced; fitted an equal one; hFE 200" in " ".join(log.split())


def test_a_retest_is_one_command_over_just_what_is_due(run: Run, job: str) -> None:
    run("mark", job, "switches", "31- 32- 41 42")
    run("repair", job, "switch column 3")
    lines = run("retest", job).splitlines()
    assert lines[0] == "round of switches started over 2 cells"
    assert [line.split()[0] for line in lines[1:3]] == ["31", "32"]
    assert lines[3] == f"record with: matrixcheck mark {job} switches 31 32 ..."
    run("mark", job, "switches", "31", "32")
    assert "due for a retest" in run("retest", job, code=2)


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("k1", "K1"),
        ("lamp 21", "lamp 21 (sluice open)"),
        ("column 3", ""),
        ("switches.31", "switch 31 (tram stop 1)"),
        ("switches.c3", "switch column 3 wire"),
        ("r9c1", "coil 9 (gull kick right)"),
    ],
)
def test_names_mean_the_same_in_every_command(run: Run, job: str, name: str, place: str) -> None:
    if not place:
        for words in (["repair", job, name], ["finding", job, name, "good"]):
            assert "could be switches.c3, lamps.c3" in run(*words, code=2)
        return
    assert run("repair", job, name).startswith(f"kept  {place} repaired")
    run("finding", job, name, "good")
    assert f"bench check: {place} good" in " ".join(run("log", job).split())
    if place.startswith("lamp "):
        assert "lamp 21 (" in run("defer", job, "lamps", name)
        assert "kept  rest scan" in run("rest", job, "lamps", name)


def test_something_outside_the_layout_is_repaired_only_when_it_is_said_to_be(run: Run, job: str) -> None:
    run("mark", job, "switches", "31-")
    assert "has no part" in run("repair", job, "flipper link", "--did", "new bush", code=2)
    assert "what was done is empty" in run("repair", job, "flipper link", "--outside", code=2)
    said = run("repair", job, "flipper link", "--outside", "--did", "new bush")
    assert said == "kept  flipper link repaired; 0 cells are due to be tested again\n"
    assert "repair: flipper link, outside the layout; new bush" in " ".join(run("log", job).split())


def test_a_wrong_mark_is_struck_out_by_its_number_and_comes_back_with_redo(run: Run, job: str) -> None:
    run("mark", job, "switches", "31", "32-", "33")
    run("mark", job, "switches", "32")
    log = {line["seq"]: line for line in json.loads(run("log", job, "--json"))["log"]}
    assert [line["initials"] for line in log.values()] == ["AB"] * 5
    number = next(seq for seq, line in log.items() if line["text"].endswith("dead"))
    assert run("undo", job, str(number)).startswith("undone  switch 32 ")
    assert "[undone since]" in run("log", job)
    assert run("redo", job).startswith("redone  switch 32 ")
    assert "[undone since]" not in run("log", job)
    assert "nothing to redo" in run("redo", job, code=2)
    assert "no event 77" in run("undo", job, "77", code=2)


def test_numbers_of_events_count_within_the_job(run: Run, job: str) -> None:
    other = run("job", "new", "switch-8x8", "--name", "another").strip()
    run("mark", job, "switches", "31")
    kept = json.loads(run("mark", other, "switches", "11", "12", "--json"))["kept"]
    assert [one["seq"] for one in kept] == [2, 3]
    assert [line["seq"] for line in json.loads(run("log", other, "--json"))["log"]] == [1, 2, 3]


def test_an_intermittent_cell_says_how_often_it_has_to_pass(run: Run, job: str) -> None:
    run("mark", job, "switches", "31")
    run("mark", job, "switches", "31-")
    run("repair", job, "Q3")
    assert "passes" in run("retest", job).splitlines()[1]
    assert run("mark", job, "switches", "31").rstrip().endswith("2 more passes needed")
    assert run("mark", job, "switches", "31").rstrip().endswith("one more pass needed")
    assert run("mark", job, "switches", "31").rstrip().endswith("working")
