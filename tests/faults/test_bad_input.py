"""A table of bad inputs through the real command line: each gives one line on stderr and its exit code, nothing on
stdout, and leaves every file as it was."""

from __future__ import annotations

import functools
import hashlib
import io
import os
import random
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.layout.files import parse_layout

PROGRAM = [sys.executable, "-m", "matrixcheck.cli.main"]

LAYOUT = """
format = 1
name = "Reed Warbler"
[[matrix]]
id = "switches"
kind = "switch"
cells = [["left lane", "pond"], ["right lane", ""]]
  [[matrix.column]]
  path = ["Q1"]
[[matrix]]
id = "lamps"
kind = "lamp"
cells = [["reed", "boat"]]
"""


@dataclass(frozen=True)
class Place:
    """A folder with a sound layout, a book and two jobs in it, for the cases to spoil."""

    folder: Path
    jobs: tuple[str, str]

    @property
    def book(self) -> Path:
        return self.folder / "bench.book"

    @property
    def layout(self) -> Path:
        return self.folder / "sound.toml"

    def words(self, command: str) -> list[str]:
        """The command's words, with `JOB`, `SOUND` (the layout) and `HERE` (the folder) put in."""
        known = {"JOB": self.jobs[0], "SOUND": str(self.layout), "HERE": str(self.folder)}
        words = [
            functools.reduce(lambda word, key: word.replace(key, known[key]), known, one) for one in split(command)
        ]
        return words if "--book" in words else ["--book", str(self.book), *words]


def split(command: str) -> list[str]:
    """Words of a command; a part between bars is one word, blanks and all."""
    parts = command.split("|")
    return [word for place, part in enumerate(parts) for word in ([part] if place % 2 else part.split())]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Place:
    """The folder as it is before any case, made once."""
    folder = tmp_path_factory.mktemp("sound")
    (folder / "sound.toml").write_text(LAYOUT)
    bench = Bench(folder / "bench.book")
    layout = parse_layout(LAYOUT, "sound.toml")
    jobs = (bench.new_job(layout, "one"), bench.new_job(layout, "two"))
    bench.mark(jobs[0], "switches", "1 2-")
    bench.close()
    return Place(folder, jobs)


@pytest.fixture
def place(sound: Place, tmp_path: Path) -> Place:
    return Place(shutil.copytree(sound.folder, tmp_path, dirs_exist_ok=True), sound.jobs)


def contents(folder: Path) -> dict[str, str]:
    """Every file below a folder by name, with the SHA-256 of what is in it."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "folder"
        for path in sorted(folder.rglob("*"))
    }


Spoil = Callable[[Place], None]


def file(name: str, text: str | bytes) -> Spoil:
    """A case that needs a file with this in it."""
    return lambda place: void((place.folder / name).write_bytes(text if isinstance(text, bytes) else text.encode()))


def layout(old: str, new: str) -> Spoil:
    """A case that needs `bad.toml`: the sound layout with something put in another's place."""
    assert old in LAYOUT
    return file("bad.toml", LAYOUT.replace(old, new))


def void(_: object) -> None:
    """Let a lambda do something for its effect."""


def nothing(_: Place) -> None:
    """A case that needs nothing."""


def book_of_text(place: Place) -> None:
    place.book.write_text("This is not a bench book at all, but a letter. " * 40)


def book_of_another_program(place: Place) -> None:
    place.book.unlink()
    with closing(sqlite3.connect(place.book)) as other:
        other.executescript("CREATE TABLE recipe (name TEXT); INSERT INTO recipe VALUES ('soup');")


def book_of_a_newer_version(place: Place) -> None:
    with closing(sqlite3.connect(place.book)) as newer:
        newer.execute("PRAGMA user_version = 4242")


def empty_book(place: Place) -> None:
    place.book.write_bytes(b"")


def book_with_a_hole(place: Place) -> None:
    raw = bytearray(place.book.read_bytes())
    raw[5000:] = bytes(len(raw) - 5000)
    place.book.write_bytes(raw)


def book_with_an_altered_row(place: Place) -> None:
    """Somebody takes the guard off and turns a dead switch into a working one."""
    with closing(sqlite3.connect(place.book)) as book:
        (table,) = book.execute("SELECT tbl_name FROM sqlite_schema WHERE type = 'trigger' LIMIT 1").fetchone()
        for (name,) in book.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            book.execute(f"DROP TRIGGER {name}")
        columns = [row[1] for row in book.execute(f"PRAGMA table_info({table})") if row[2].upper() == "TEXT"]
        for column in columns:
            book.execute(f"UPDATE {table} SET {column} = replace({column}, '\"answered\":[]', '\"answered\":[1]')")
        book.execute(f"UPDATE {table} SET {columns[-1]} = {columns[-1]} || ' ' WHERE rowid = 2")
        book.commit()


@dataclass(frozen=True)
class Case:
    """One bad input: the command, its exit code, what the line must name, what is spoilt before, and stdin."""

    name: str
    command: str
    code: int
    says: str
    spoil: Spoil = nothing
    stdin: bytes = b""


NONSENSE = random.Random(20).randbytes(1_000_000)
DEEP = b"[" * 200_000

CASES = [
    # wrong use
    Case("unknown command", "frobnicate JOB", 2, "frobnicate"),
    Case("unknown option", "status JOB --frob", 2, "--frob"),
    Case("missing argument", "status", 2, "JOB"),
    Case("missing option", "job new SOUND", 2, "--name"),
    Case("option without value", "job new SOUND --name", 2, "--name"),
    Case("too many arguments", "undo JOB 2 again", 2, "again"),
    Case("a book without a path", "job list --book", 2, "--book"),
    Case("empty job name", "job new SOUND --name ||", 2, "empty"),
    Case("job unknown", "status zzzz", 2, "zzzz"),
    Case("job prefix ambiguous", "status ||", 2, "job"),
    Case("matrix unknown", "mark JOB relays 1", 2, "relays"),
    Case("marks without entries", "mark JOB switches", 2, "entries"),
    Case("marks both ways", "mark JOB switches 1 --readings x", 2, "--readings"),
    Case("entry taken for an option", "mark JOB switches -24", 2, "-2"),
    Case("matrix to show unknown", "job show JOB --matrix relays", 2, "relays"),
    Case("nothing to undo", "undo SECOND", 2, "undo"),
    Case("verdict unknown", "finding JOB Q1 perhaps", 2, "perhaps"),
    Case("place of a finding unknown", "finding JOB Q99 good", 2, "Q99"),
    Case("place of a repair unknown", "repair JOB switches.c9", 2, "switches.c9"),
    Case("safety check without outcome", "safety JOB |mains lead|", 2, "one result"),
    Case("safety check with both outcomes", "safety JOB |mains lead| --failed --passed", 2, "one result"),
    Case("empty note", "note JOB ||", 2, "empty"),
    Case("note of nothing that can be seen", "note JOB |\x1b\x07|", 2, "empty"),
    *(
        Case(f"job named by {name} alone", f"job new SOUND --name |{sign}|", 2, "empty")
        for name, sign in (
            ("a zero-width space", "\u200b"),
            ("a soft hyphen", "\u00ad"),
            ("a Hangul filler", "\u3164"),
            ("a blank Braille pattern", "\u2800"),
            ("a variation selector", "\ufe0f"),
            ("a byte-order mark", "\ufeff"),
            ("a lone accent", "\u0301"),
            ("a tag", "\U000e0041"),
            ("unassigned signs", "\u0378"),
            ("blanks", " \u3000"),
        )
    ),
    Case("note of a zero-width space", "note JOB |\u200b|", 2, "empty"),
    Case("safety check of a Hangul filler", "safety JOB |\u3164| --passed", 2, "empty"),
    Case("layout name unknown", "job new saltmarsh-trm --name x", 2, "saltmarsh-tram"),
    Case("fault class unknown", "predict SOUND --fault melted:Q1", 2, "melted"),
    Case("fault place unknown", "predict SOUND --fault open:Q77", 2, "Q77"),
    Case("fault without place", "predict SOUND --fault open", 2, "open"),
    Case("coils hotter than copper stands", "diagnose SOUND - --celsius 500", 2, "--celsius"),
    Case("coils of no temperature", "diagnose SOUND - --celsius nan", 2, "--celsius"),
    Case("coils hotter than any number", "diagnose SOUND - --celsius 1e999", 2, "--celsius"),
    Case("held without a matrix", "predict SOUND --held 1", 2, "--matrix"),
    Case("book to verify missing", "--book HERE/none.book book verify", 2, "none.book"),
    Case("screens of an unknown job", "open zzzz", 2, "zzzz"),
    Case("browser for an unknown job", "serve zzzz", 2, "zzzz"),
    Case("demonstration into a file", "demo --out HERE/sound.toml", 2, "sound.toml"),
    Case("demonstration below a file", "demo --out HERE/sound.toml/x", 2, "sound.toml"),
    Case("report into a folder", "report JOB --to HERE", 2, "HERE"),
    Case("report below a file", "report JOB --to HERE/sound.toml/x.csv", 2, "x.csv"),
    Case("report into a folder that is missing", "report JOB --json HERE/none/x.json", 2, "none"),
    # input refused: layouts
    Case("layout missing", "job new HERE/none.toml --name x", 3, "none.toml"),
    Case("layout to check missing", "layout check HERE/none.toml", 3, "none.toml"),
    Case("layout is a folder", "layout check HERE", 3, "folder"),
    Case("layout not TOML", "diagnose HERE/bad.toml -", 3, "bad.toml:1", file("bad.toml", "format = = 1")),
    Case("layout binary", "diagnose HERE/bad.toml -", 3, "UTF-8", file("bad.toml", NONSENSE[:900])),
    Case(
        "layout of a wrong type", "job new HERE/bad.toml --name x", 3, "bad.toml:3: name", layout('"Reed Warbler"', "7")
    ),
    Case(
        "layout of another format",
        "job new HERE/bad.toml --name x",
        3,
        "bad.toml:2: format",
        layout("format = 1", "format = 2"),
    ),
    *(
        Case(
            f"layout with a name of {name}",
            "job new HERE/bad.toml --name x",
            3,
            "blanks",
            layout(old, f'"{sign}"'),
        )
        for name, old, sign in (
            ("blanks", '"Reed Warbler"', "  "),
            ("a Hangul filler", '"Reed Warbler"', "\u3164"),
            ("a blank cell", '"left lane"', " "),
            ("a blank Braille pattern", '"left lane"', "\u2800"),
        )
    ),
    Case("layout key misspelt", "job new HERE/bad.toml --name x", 3, "kind", layout("kind =", "kidn =")),
    Case("part letter unknown", "job new HERE/bad.toml --name x", 3, "Z1", layout('"Q1"', '"Z1"')),
    Case("two matrices of one id", "job new HERE/bad.toml --name x", 3, "switches", layout('"lamps"', '"switches"')),
    Case(
        "number given twice",
        "job new HERE/bad.toml --name x",
        3,
        "bad.toml",
        layout('kind = "lamp"', 'kind = "lamp"\nnumbering = "listed"\nnumbers = [[5, 5]]'),
    ),
    Case("rows of different length", "job new HERE/bad.toml --name x", 3, "bad.toml:7", layout(', ""]]', "]]")),
    Case(
        "layout without matrices", "diagnose HERE/bad.toml -", 3, "bad.toml", file("bad.toml", 'format = 1\nname = "x"')
    ),
    Case("layout empty", "layout check HERE/none/../bad.toml/", 3, "bad.toml", file("bad.toml", "")),
    # input refused: entries
    Case("entry is nonsense", "mark JOB switches 1 2?", 3, "2?"),
    Case("entry empty", "mark JOB switches ||", 3, "typed"),
    Case("number unknown", "mark JOB switches 99", 3, "99"),
    Case("cell outside the grid", "mark JOB switches r9c9", 3, "r9c9"),
    Case("cell not fitted", "mark JOB switches r2c2", 3, "r2c2"),
    Case("line outside the grid", "mark JOB switches c7-", 3, "c7"),
    Case("one bad entry among good ones", "mark JOB switches 1- 2- oops", 3, "oops"),
    Case("entry of a megabyte", "mark JOB switches " + "9" * 100_000, 3, "long"),
    Case("entry that would steer a terminal", "mark JOB switches |1\x1b[2J|", 3, "can't read"),
    Case("put-off cell unknown", "defer JOB switches 77", 3, "77"),
    Case("put-off cell not fitted", "defer JOB switches r2c2", 3, "r2c2"),
    Case("rest scan of no cell", "rest JOB switches x", 3, "x"),
    # input refused: readings
    Case("readings missing", "mark JOB --readings HERE/none.jsonl", 3, "none.jsonl"),
    Case("readings are a folder", "diagnose SOUND HERE", 3, "HERE"),
    Case("readings empty", "diagnose SOUND -", 3, "standard input"),
    Case("readings of blank lines", "diagnose SOUND -", 3, "standard input", stdin=b"\n \n\n"),
    Case("readings not JSON", "mark JOB --readings -", 3, "standard input:2", stdin=b'\n{"matrix": }\n'),
    Case("readings a list", "diagnose SOUND -", 3, "standard input:1", stdin=b"[1, 2]\n"),
    Case("readings too deep", "diagnose SOUND -", 3, "standard input:1", stdin=DEEP),
    Case("readings binary", "diagnose SOUND -", 3, "UTF-8", stdin=NONSENSE[:4000]),
    Case("a megabyte of nonsense", "diagnose SOUND -", 3, "standard input", stdin=NONSENSE.hex().encode()[:1_000_000]),
    Case("readings file of no bytes", "diagnose SOUND HERE/x.jsonl", 3, "x.jsonl", file("x.jsonl", "")),
    Case("readings file without a name", "diagnose SOUND ||", 3, "no name"),
    Case("a megabyte of lines", "diagnose SOUND HERE/x.jsonl", 3, "x.jsonl:1", file("x.jsonl", "dead 7\n" * 150_000)),
    Case(
        "a megabyte of braces", "diagnose SOUND HERE/x.jsonl", 3, "x.jsonl:1", file("x.jsonl", '{"matrix": ' * 90_000)
    ),
    Case(
        "a diagnosis of an unknown cell",
        "diagnose SOUND HERE/x.jsonl",
        3,
        "x.jsonl:1",
        file("x.jsonl", '{"matrix": "lamps", "cell": 99, "answered": []}\n'),
    ),
    Case("readings of an unknown matrix", "diagnose SOUND -", 3, "relays", stdin=b'{"matrix": "relays", "cell": 1}'),
    Case(
        "readings of an unknown cell",
        "mark JOB --readings -",
        3,
        "99",
        stdin=b'{"matrix": "lamps", "cell": 99, "mark": "dead"}',
    ),
    Case(
        "readings of a cell that is not fitted",
        "diagnose SOUND -",
        3,
        "r2c2",
        stdin=b'{"matrix": "switches", "cell": "r2c2", "answered": []}',
    ),
    Case(
        "readings with an unknown key",
        "diagnose SOUND -",
        3,
        "anwsered",
        stdin=b'{"matrix": "lamps", "cell": 1, "anwsered": []}',
    ),
    Case(
        "one bad reading after a good one",
        "mark JOB --readings -",
        3,
        "standard input:2",
        stdin=b'{"matrix": "lamps", "cell": 1, "mark": "dead"}\n{"matrix": "lamps", "cell": 1, "mark": "fine"}\n',
    ),
    *(
        Case(name, "diagnose SOUND -", 3, says, stdin=f'{{"matrix": {line}}}'.encode())
        for name, line, says in (
            ("an answer from outside the grid", '"switches", "cell": 1, "answered": ["r9c9"]', "r9c9"),
            ("an answer of no number", '"switches", "cell": 1, "answered": [99]', "`answered`"),
            ("a held cell that the matrix lacks", '"switches", "cell": 1, "held": [99], "answered": []', "`held`"),
            ("a cell exercised and held", '"switches", "cell": 1, "held": [1], "answered": [1]', "held"),
            ("a mark against its answers", '"switches", "cell": 1, "answered": [1], "mark": "dead"', "goes against"),
            ("a switch that glows", '"switches", "cell": 1, "answered": [], "faint": [1]', "faint"),
            ("a lamp that is held", '"lamps", "cell": 1, "held": [2], "answered": [1]', "held"),
            ("a lamp bright and faint at once", '"lamps", "cell": 1, "answered": [1], "faint": [1]', "faint"),
            ("a rest scan that says nothing", '"lamps"', "`answered`"),
            ("ohms below nothing", '"lamps", "cell": 1, "mark": "dead", "ohms": -4', "`ohms`"),
            ("ohms that are no number", '"lamps", "cell": 1, "mark": "dead", "ohms": NaN', "NaN"),
        )
    ),
    Case("held cell unknown", "predict SOUND --matrix switches --held 44", 3, "44"),
    # the book
    Case("book is a folder", "--book HERE job list", 4, "folder"),
    Case("book below a file", "--book HERE/sound.toml/x.book job new SOUND --name x", 4, "x.book"),
    Case("book where nothing can be made", "--book /proc/none/x.book job new SOUND --name x", 4, "/proc/none"),
    Case("book is a device", "--book /dev/null job new SOUND --name x", 4, "/dev/null"),
    Case("book is no book", "job list", 4, "bench.book", book_of_text),
    Case("book is no book, to write", "mark JOB switches 1", 4, "bench.book", book_of_text),
    Case("book of another program", "job list", 4, "bench.book", book_of_another_program),
    Case("book of another program, to write", "job new SOUND --name x", 4, "bench.book", book_of_another_program),
    Case("book of a newer version", "mark JOB switches 1", 4, "bench.book", book_of_a_newer_version),
    Case("screens on a folder", "open --book HERE", 4, "folder"),
    Case("screens on a book of a newer version", "open", 4, "newer matrixcheck", book_of_a_newer_version),
    Case("book that is empty", "book verify", 4, "is empty", empty_book),
    Case("book with a hole", "book verify", 4, "bench.book", book_with_a_hole),
    Case("book with an altered row", "book verify", 4, "bench.book", book_with_an_altered_row),
]

# One of each exit code, one of standard input, one of the screens; the rest in the long run.
FOR_REAL = ("unknown command", "readings binary", "book is no book, to write", "screens on a folder")
MORE_FOR_REAL = (
    "layout missing", "a megabyte of nonsense", "readings empty", "job unknown", "readings file of no bytes",
    "a megabyte of lines", "a diagnosis of an unknown cell", "entry that would steer a terminal", "book is a folder",
    "report below a file", "too many arguments", "book where nothing can be made",
    "screens on a book of a newer version",
)  # fmt: skip


def said_one_line(place: Place, case: Case, code: int, out: str, err: str) -> None:
    assert (code, out) == (case.code, ""), err
    assert err.endswith("\n")
    assert err.count("\n") == 1, err
    assert err[:-1].isprintable()
    assert case.says.replace("HERE", str(place.folder)) in err
    assert "Traceback" not in err


@pytest.fixture
def short_patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait for a locked book no longer than a test may."""
    monkeypatch.setattr("matrixcheck.bench.Bench", functools.partial(Bench, patience=0.01))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_bad_input_gives_one_line_and_its_exit_code_and_changes_nothing(
    case: Case, place: Place, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    case.spoil(place)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(case.stdin)))
    before = contents(place.folder)
    code = main(place.words(case.command.replace("SECOND", place.jobs[1])))
    shown = capsys.readouterr()
    said_one_line(place, case, code, shown.out, shown.err)
    assert contents(place.folder) == before


@pytest.mark.parametrize("name", [*FOR_REAL, *(pytest.param(name, marks=pytest.mark.slow) for name in MORE_FOR_REAL)])
def test_the_installed_program_does_the_same(name: str, place: Place) -> None:
    (case,) = [case for case in CASES if case.name == name]
    case.spoil(place)
    before = contents(place.folder)
    command = [*PROGRAM, *place.words(case.command)]
    done = subprocess.run(command, input=case.stdin, capture_output=True, check=False)
    said_one_line(place, case, done.returncode, done.stdout.decode(), done.stderr.decode())
    assert contents(place.folder) == before


def test_a_part_of_an_id_that_several_jobs_begin_with_is_refused(
    place: Place, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = Bench(place.book)
    layout = parse_layout(LAYOUT, "sound.toml")
    starts = [job[0] for job in place.jobs]
    while len(set(starts)) == len(starts):
        starts.append(bench.new_job(layout, f"job {len(starts)}")[0])
    bench.close()
    shared = next(start for start in starts if starts.count(start) > 1)
    before = contents(place.folder)
    assert main(["--book", str(place.book), "undo", shared]) == 2
    shown = capsys.readouterr()
    assert (shown.out, shown.err.count("\n")) == ("", 1)
    assert contents(place.folder) == before


@pytest.mark.usefixtures("short_patience")
def test_a_locked_book_is_told_and_nothing_is_kept(place: Place, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(sqlite3.connect(place.book, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        code = main(["--book", str(place.book), "mark", place.jobs[0], "switches", "1-"])
        other.execute("ROLLBACK")
    shown = capsys.readouterr()
    assert (code, shown.out, shown.err.count("\n")) == (4, "", 1)
    assert "locked" in shown.err
    assert Bench(place.book).status(place.jobs[0])["switches"].dead == 1


@pytest.fixture
def read_only(place: Place) -> Iterator[Place]:
    """The book and its folder without a write bit."""
    place.book.chmod(0o444)
    place.folder.chmod(0o555)
    yield place
    place.folder.chmod(0o755)


def as_nobody_special() -> list[str]:
    """What to put before a command so that root, too, is bound by write bits: it gives up its power to pass them by."""
    return ["setpriv", "--bounding-set", "-dac_override,-dac_read_search", "--"] if os.geteuid() == 0 else []


def test_a_read_only_book_refuses_a_mark_in_one_line(read_only: Place) -> None:
    before = contents(read_only.folder)
    command = [*as_nobody_special(), *PROGRAM, *read_only.words("mark JOB switches 1-")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (4, "", 1), done.stderr
    assert "can't be written" in done.stderr
    assert contents(read_only.folder) == before


def test_a_read_only_book_can_still_be_read(read_only: Place) -> None:
    before = contents(read_only.folder)
    command = [*as_nobody_special(), *PROGRAM, *read_only.words("status JOB")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert contents(read_only.folder) == before
