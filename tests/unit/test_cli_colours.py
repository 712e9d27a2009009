"""Colour only where it is wanted, from one table; the words are the same with it and without."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.cli.colours import STYLES, coloured
from matrixcheck.cli.main import main
from tests.machines import shipped_layout

CODE = re.compile(r"\x1b\[[0-9;]*m")


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A job with every state."""
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))
    monkeypatch.setenv("COLUMNS", "80")
    for name in ("FORCE_COLOR", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    bench = Bench(tmp_path / "bench.book")
    opened = bench.new_job(shipped_layout("switch-8x8"), "A dead end")
    bench.mark(opened, "switches", "11 12- 13* 14+-")
    bench.safety(opened, "mains lead", passed=False)
    bench.note(opened, "slip")
    bench.undo(opened)
    bench.close()
    return opened


COMMANDS = [
    "job list", "job show JOB", "status JOB", "later JOB", "log JOB", "safety JOB", "checklist JOB", "suspects JOB",
    "layout list", "config show", "report JOB",
]  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_the_words_are_the_same_with_colour_and_without(
    command: str, job: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = [job if word == "JOB" else word for word in command.split()]
    assert main(typed) == 0
    plain = capsys.readouterr().out
    assert "\x1b" not in plain
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert main(typed) == 0
    shown = CODE.sub("", capsys.readouterr().out)
    assert [line.rstrip() for line in shown.splitlines()] == [line.rstrip() for line in plain.splitlines()]


@pytest.mark.parametrize("command", ["mark JOB switches 21 22-", "safety JOB X fail", "status JOB", "log JOB"])
def test_a_terminal_shows_states_in_colour_unless_no_color_is_set(
    command: str, job: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed = [job if word == "JOB" else word for word in command.split()]
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("TERM", "xterm")
    assert main(typed) == 0
    assert CODE.search(capsys.readouterr().out)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setenv("NO_COLOR", "1")
    assert main(typed) == 0
    codes = {number for code in CODE.findall(capsys.readouterr().out) for number in code[2:-1].split(";")}
    assert codes <= {"0", "1", "2", "3", "4", "9", ""}


def test_what_other_programs_read_has_no_colour_ever(
    job: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    for command in (f"status {job} --json", f"report {job} --to -.csv", f"report {job} --to -.md"):
        assert main(command.split()) == 0
        assert "\x1b" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("kept  switch 24 (gate)  dead", {("kept", "done"), ("dead", "dead")}),
        ("undone  switch 24 (gate) working", {("undone", "undone"), ("working", "working")}),
        ("kept in mind", set()),
        ("mains lead FAILED: sheath cut", {("FAILED", "danger")}),
        ("the deadline is untested", {("untested", "untested")}),
        ("pond.toml:3: error: name", {("error:", "danger")}),
    ],
)
def test_a_state_is_coloured_as_a_whole_word(line: str, found: set[tuple[str, str]]) -> None:
    text = coloured(line)
    assert text.plain == line
    assert {(line[span.start : span.end], str(span.style).removeprefix("state.")) for span in text.spans} == found
    assert {state for _, state in found} <= set(STYLES)
