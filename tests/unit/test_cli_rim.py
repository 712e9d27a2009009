"""What every command has in common: one line on stderr, the exit code, quick starts, pipes, interruption."""

from __future__ import annotations

import gc
import importlib.metadata
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck import __version__
from matrixcheck.cli.app import book_first, program
from matrixcheck.cli.entrypoint import (
    BOOK_TROUBLE,
    DONE,
    FAILED,
    INPUT_REFUSED,
    PROBLEMS,
    WRONG_USE,
    code_of,
)
from matrixcheck.cli.main import main
from matrixcheck.errors import AnalysisError, BookError, InputError, MatrixCheckError, UsageError

PROGRAM = [sys.executable, "-m", "matrixcheck.cli.main"]


def commands() -> Iterator[tuple[str, Any]]:
    """Every command of the program, with the words that call it."""

    def walk(words: str, command: Any) -> Iterator[tuple[str, Any]]:
        inner = getattr(command, "commands", {})
        yield words, command
        for name, one in inner.items():
            yield from walk(f"{words} {name}", one)

    yield from walk("matrixcheck", program())


@pytest.mark.parametrize(("words", "command"), list(commands()))
def test_every_command_argument_and_option_says_what_it_is_for(words: str, command: Any) -> None:
    assert command.help, words
    for parameter in command.params:
        assert getattr(parameter, "help", None), f"{words} {parameter.name}"


@pytest.mark.parametrize("words", [words for words, _ in commands()])
def test_every_command_prints_its_help_whole_on_80_columns(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*words.split()[1:], "--help"]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    assert shown.out.startswith(f"Usage: {words}")
    assert "..." not in shown.out.replace("[ARGS]...", "").replace("]...", "").replace("}...", "").replace(" ...", "")
    assert max(map(len, shown.out.splitlines())) <= 80


@pytest.mark.parametrize("words", [words for words, _ in commands()])
def test_the_short_option_prints_the_same_help(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    shown = {}
    for option in ("-h", "--help"):
        assert main([*words.split()[1:], option]) == 0
        shown[option] = capsys.readouterr().out
    assert shown["-h"] == shown["--help"]


def test_the_version_is_the_one_that_the_package_was_built_with(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"matrixcheck {__version__}\n"
    assert importlib.metadata.version("matrixcheck") == __version__


def test_the_version_is_also_told_among_other_options(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--book", "x", "--version"]) == 0
    assert capsys.readouterr().out == f"matrixcheck {__version__}\n"


@pytest.mark.parametrize(
    ("words", "too_heavy"),
    [
        ("--version", {"typer", "re", "pydantic", "rich", "numpy", "textual", "jinja2", "sqlite3"}),
        ("--help", {"pydantic", "rich", "numpy", "textual", "jinja2", "sqlite3", "json", "secrets", "csv"}),
        ("diagnose --help", {"rich", "numpy", "textual", "jinja2", "sqlite3"}),
    ],
)
def test_a_start_imports_nothing_that_it_does_not_need(words: str, too_heavy: set[str]) -> None:
    code = (
        "import sys; from matrixcheck.cli.main import main; before = set(sys.modules); "
        f"main({words.split()!r}); print(*(set(sys.modules) - before))"
    )
    done = subprocess.run([sys.executable, "-S", "-c", f"import sys; sys.path[:] = {sys.path!r}; {code}"],
                          capture_output=True, text=True, check=True)  # fmt: skip
    loaded = {name.partition(".")[0] for name in done.stdout.splitlines()[-1].split()}
    assert loaded & too_heavy == set()


@pytest.mark.parametrize(
    "words",
    ["frob", "mark", "mark x --frob", "job", "job new x", "job new --name", "status", "--book", "later x y", "undo"],
)
def test_wrong_use_is_one_line_on_stderr_and_exit_code_2(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words.split()) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.count("\n") == 1
    assert shown.err.endswith("\n")


def test_a_misspelt_command_is_answered_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["suspcts", "x"]) == 2
    assert "'suspects'" in capsys.readouterr().err


def test_garbage_is_collected_while_a_command_runs_and_after_it_however_it_ended(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    collecting: list[bool] = []

    def check(*_: Any, **__: Any) -> None:
        collecting.append(gc.isenabled())
        raise UsageError("planted", "nothing to do")

    monkeypatch.setattr("matrixcheck.cli.jobs.bench_of", check)
    assert main(["job", "list"]) == WRONG_USE
    assert (collecting, gc.isenabled()) == ([True], True)
    assert main(["no-such-command"]) == WRONG_USE
    assert gc.isenabled()
    assert "planted" in capsys.readouterr().err


def test_without_a_command_and_without_a_terminal_it_says_so() -> None:
    done = subprocess.run(PROGRAM, stdin=subprocess.DEVNULL, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "no command given, and the screens need a terminal: see `matrixcheck --help`\n"


def test_the_help_says_what_happens_without_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["-h"]) == 0
    assert "Without a command, on a terminal, the screens open at the bench." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("error", "code"), [(UsageError("x"), 2), (InputError("x"), 3), (BookError("x"), 4), (AnalysisError("x"), 5)]
)
def test_each_sort_of_error_has_its_exit_code(error: MatrixCheckError, code: int) -> None:
    assert code_of(error) == code


def test_every_exit_code_stands_in_the_help_and_in_the_readme(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    told = " ".join(capsys.readouterr().out.partition("Exit codes:")[2].split())
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8").partition("### Exit codes")[2]
    for code in (DONE, PROBLEMS, WRONG_USE, INPUT_REFUSED, BOOK_TROUBLE, FAILED):
        assert re.search(rf"\b{code} [a-z]", told), code
        assert re.search(rf"\b{code} [a-z]", readme), code


def test_what_a_person_typed_cannot_steer_the_terminal_through_an_error(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["diagnose", "no\x1b[2J\nsuch.toml", "-"]) == 3
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert said.rstrip("\n").isprintable()


def test_an_error_stays_short_whatever_was_typed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["diagnose", "x" * 5000 + ".toml", "-"]) == 3
    assert len(capsys.readouterr().err) < 700


words = st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=5).filter(lambda word: word != "--book")


@given(before=st.lists(words), after=st.lists(words), path=words, joined=st.booleans())
def test_the_book_may_stand_anywhere_and_nothing_else_moves(
    before: list[str], after: list[str], path: str, joined: bool
) -> None:
    book = [f"--book={path}"] if joined else ["--book", path]
    assert book_first([*before, *book, *after]) == [*book, *before, *after]


@given(args=st.lists(words))
def test_after_two_dashes_nothing_is_taken_for_an_option(args: list[str]) -> None:
    assert book_first(["note", "--", "--book", *args]) == ["note", "--", "--book", *args]


def test_a_reader_that_goes_away_is_no_trouble() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = subprocess.run([*PROGRAM, "--help"], stdout=writing, stderr=subprocess.PIPE, check=False)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_full_disk_behind_the_output_is_one_line(tmp_path: Path) -> None:
    layout = tmp_path / "x.toml"
    layout.write_text("format = 2\n")
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*PROGRAM, "layout", "check", str(layout)], stdout=full, stderr=subprocess.PIPE, check=False
        )
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1


def test_streams_that_are_closed_from_the_start_end_in_no_traceback() -> None:
    """As `diagnose ... <&-` and `job list >&-` do in a shell."""
    for closing, words, code in (("<&-", "diagnose switch-8x8 -", 3), (">&-", "layout check none.toml", 3)):
        line = f"{shlex.join(PROGRAM)} {words} {closing}"
        done = subprocess.run(["sh", "-c", line], capture_output=True, text=True, check=False)
        assert done.returncode == code
        assert done.stderr.count("\n") == 1


class _Interrupted:
    """Standard input on which somebody presses Ctrl-C."""

    class buffer:  # noqa: N801 - the name that standard input gives it
        @staticmethod
        def read(_size: int) -> bytes:
            raise KeyboardInterrupt


def test_an_interruption_ends_quietly_with_130(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", _Interrupted)
    assert main(["diagnose", "switch-8x8", "-"]) == 130
    assert capsys.readouterr().err == ""
