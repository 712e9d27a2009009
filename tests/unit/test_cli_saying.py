"""What commands print: nothing steers the terminal, letters stand for signs that it lacks, and what was kept is said
even where it can't be printed."""

from __future__ import annotations

import io
import json
import re
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_case import LAYOUT, LAYOUT_TEXT

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.frozen import from_json, to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import JobOpened
from matrixcheck.record.journal import Journal
from matrixcheck.report.glyphs import FAINT, GLYPHS, RETEST_DUE, in_ascii

STEERING = "\x1b[2J\x9b31m\u202e\u2028"


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "bench.book"
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(path))
    return path


@pytest.fixture
def job(book: Path) -> str:
    bench = Bench(book)
    opened = bench.new_job(LAYOUT, "Evening")
    bench.mark(opened, "switches", "1 4-")
    bench.close()
    return opened


@pytest.mark.parametrize(
    ("command", "says"),
    [
        ("job new HERE/l.toml --name Second", r"opened job \w{3,}"),
        ("mark JOB switches 2 5-", r"kept switch 2 \(right lane\) working; kept switch 5 \(pond 2\) dead"),
        ("mark JOB switches 2 --json", r"kept switch 2 \(right lane\) working"),
        ("rest JOB switches", "kept rest scan"),
        ("undo JOB", r"undone switch 1 \(left lane\) answered; undone switch 4 \(pond 1\) dead"),
        ("defer JOB switches 6", r"kept switch 6 \(pond 3\)"),
        ("note JOB bent", "kept note"),
        ("finding JOB Q2 good", "kept Q2 good"),
        ("repair JOB Q2", "kept Q2 repaired"),
        ("safety JOB lead --failed", "kept lead FAILED"),
    ],
)
def test_what_was_kept_is_said_where_standard_output_cannot_be_written(
    command: str,
    says: str,
    *,
    job: str,
    book: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "l.toml").write_text(LAYOUT_TEXT)
    before = Bench(book).verify()
    words = command.replace("JOB", job).replace("HERE", str(tmp_path)).split()
    with suppress(OSError), Path("/dev/full").open("w") as full:  # what is left in it fails once more as it closes
        monkeypatch.setattr(sys, "stdout", full)
        code = main(words)
    assert code == 1
    said = capsys.readouterr().err
    assert said.count("\n") == 1, said
    assert re.match(says, said), said
    assert "don't enter it again" in said
    assert Bench(book).verify() > before


def hostile(book: Path) -> str:
    """A job from a book that somebody else made, with texts in it that this program would have cleaned."""
    sound = parse_layout(LAYOUT_TEXT.replace("left lane", "XX").replace("Reed Warbler", "XX"), "x")
    layout = from_json(Layout, to_json(sound).replace("XX", f"x{json.dumps(STEERING)[1:-1]}"))
    journal = Journal(book)
    with journal.writing() as writing:
        opened = JobOpened(name=f"a{STEERING}", serial=f"b{STEERING}", owner=f"c{STEERING}", layout=layout)
        writing.append("pond", [opened])
    journal.close()
    return "pond"


@pytest.mark.parametrize("colour", [True, False])
@pytest.mark.parametrize(
    "command",
    ["job list", "job list --json", "job show JOB", "job show JOB --json", "status JOB", "later JOB",
     "later JOB --json", "log JOB", "log JOB --json", "report JOB", "report JOB --to -.csv", "report JOB --json",
     "suspects JOB", "mark JOB switches 1", "mark JOB switches 1 --json", "safety JOB TEXT --passed"],
)  # fmt: skip
def test_nothing_that_stands_in_a_book_steers_the_terminal(
    command: str, colour: bool, book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if colour:
        monkeypatch.setenv("FORCE_COLOR", "1")
    job = hostile(book)
    words = [f"said{STEERING}" if word == "TEXT" else word.replace("JOB", job) for word in command.split()]
    assert main(words) == 0
    shown = capsys.readouterr().out
    shown = re.sub(r"\x1b\[[0-9;]*m", "", shown) if colour else shown
    assert set(shown) & set("\x1b\x9b\u202e\u2028") == set()


@pytest.mark.usefixtures("job")
@pytest.mark.parametrize(
    "command", ["layout check FILE", "book verify --book FILE", pytest.param("demo --out FILE", marks=pytest.mark.slow)]
)
def test_no_path_that_was_typed_steers_the_terminal(
    command: str, tmp_path: Path, book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"x{STEERING}"
    if "book" in command:
        book.rename(file)
    elif "layout" in command:
        file.write_text(LAYOUT_TEXT)
    assert main([str(file) if word == "FILE" else word for word in command.split()]) == 0
    shown = capsys.readouterr().out
    assert all(sign.isprintable() or sign == "\n" for sign in shown)


def test_a_line_that_was_typed_stays_one_line(job: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["safety", job, "mains\nlead\rx", "--passed"]) == 0
    assert capsys.readouterr().out == "kept  mains lead x passed\n"


@pytest.fixture
def in_ascii_terminal(monkeypatch: pytest.MonkeyPatch) -> Callable[..., bytes]:
    """Run a command where standard output knows ASCII alone; what came out."""

    def run(*words: str) -> bytes:
        out = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
        monkeypatch.setattr(sys, "stdout", out)
        assert main([*words]) == 0
        out.flush()
        written: bytes = out.buffer.getvalue()  # type: ignore[attr-defined]
        return written

    return run


def test_a_terminal_that_knows_ascii_alone_shows_a_letter_for_each_mark(
    in_ascii_terminal: Callable[..., bytes], job: str
) -> None:
    for command in (["job", "show", job], ["report", job]):
        shown = in_ascii_terminal(*command).decode("ascii")
        assert "?" not in shown
        assert {found[0] for found in re.findall(r"\b\d+ (ww|dd|\*s|uu)", shown)} == {"w", "d", "u"}
        assert "ww working - dd dead - *s stuck - uu untested" in shown


def test_data_for_other_programs_is_utf_8_whatever_the_terminal_knows(
    in_ascii_terminal: Callable[..., bytes], book: Path
) -> None:
    bench = Bench(book)
    job = bench.new_job(LAYOUT, "Füchse ✓")
    bench.close()
    assert json.loads(in_ascii_terminal("job", "list", "--json"))["jobs"][0]["name"] == "Füchse ✓"
    assert json.loads(in_ascii_terminal("report", job, "--to", "-.json"))["job"]["name"] == "Füchse ✓"
    assert "Füchse ✓" in in_ascii_terminal("report", job, "--to", "-.html").decode()


def test_letters_of_marks_and_signs_differ() -> None:
    signs = [*GLYPHS.values(), FAINT, RETEST_DUE]
    assert len({sign if sign.isascii() else in_ascii(sign) for sign in signs}) == len(Mark) + 2


@given(sign=st.characters(min_codepoint=128))
def test_every_sign_has_one_printable_ascii_character(sign: str) -> None:
    assert len(in_ascii(sign)) == 1
    assert in_ascii(sign).isascii()
    assert in_ascii(sign).isprintable()
