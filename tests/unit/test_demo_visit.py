"""The demonstration's visit: every state that it names is said, it fits its lines, and what is wrong fails it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from matrixcheck.cli.evening import Scenario, the_visit
from matrixcheck.cli.main import main

VISIT = the_visit()
MOST_LINES = 80


@pytest.mark.parametrize("width", [78, pytest.param(60, marks=pytest.mark.slow)])
def test_the_visit_shows_every_state_and_leaves_book_and_report(
    width: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert sum(len(step.expects) for step in VISIT.steps) > 12
    monkeypatch.setenv("COLUMNS", str(width))
    assert main(["demo", "visit", "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    lines = printed.out.splitlines()
    assert max(len(line) for line in lines if not line.startswith("Kept in ")) <= width
    assert len(lines) <= MOST_LINES or width == 60
    assert "1 of 1 planted fault found." in lines
    assert main(["--book", str(tmp_path / "visit.book"), "job", "list", "--json"]) == 0
    (job,) = json.loads(capsys.readouterr().out)["jobs"]
    assert job["verdict"].startswith("switches of column 3 in order")
    assert "pin bent back" in (tmp_path / "visit.html").read_text(encoding="utf-8")


def test_the_owner_and_the_serial_number_say_that_they_are_invented() -> None:
    assert "invented" in VISIT.owner.lower()
    assert "invented" in VISIT.serial.lower()


def test_a_state_that_is_not_said_or_is_said_still_fails_the_visit(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    short = VISIT.model_dump(by_alias=True)
    short["step"] = [short["step"][0] | {"expects": ["All is well"], "never": ["Nothing is tested yet"]}]
    monkeypatch.setattr("matrixcheck.cli.evening.the_visit", lambda: Scenario.model_validate(short))
    assert main(["demo", "visit"]) == 1
    printed = capsys.readouterr().out
    assert "NOT SAID  All is well" in printed
    assert "SAID STILL  Nothing is tested yet" in printed
    assert "0 of 2 states as they should be." in printed
