"""With `--json` every command prints one JSON text of format 1 with the same keys each time, and nothing else."""

from __future__ import annotations

import itertools
import json
import shlex
import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from report_case import LAYOUT, LAYOUT_TEXT, START

from matrixcheck.bench import Bench
from matrixcheck.cli.app import program
from matrixcheck.cli.main import main
from matrixcheck.record.clients import command_line
from matrixcheck.web.devices import Devices, file_beside
from tests.machines import saltmarsh_tram

WITHOUT = {
    "open": "it opens the screens",
}
"""Commands that print no result, with the reason. `serve` alone, which goes on until it is stopped, is a group here."""

KEPT = {"danger", "stop", "kept"}
ACT = {"danger", "stop", "job"}
CASES: dict[str, tuple[str, set[str]]] = {
    "mark": ("JOB switches 2 5-", KEPT),
    "rest": ("JOB switches", KEPT),
    "defer": ("JOB switches 6", KEPT),
    "accept": ("GLOW lamps 7 --note LED", KEPT),
    "note": ("JOB 'the leaf is bent'", ACT | {"note"}),
    "finding": ("JOB Q2 good", {"danger", "stop", "finding", "repair", "follows"}),
    "safety": ("JOB 'mains lead' pass", KEPT),
    "checklist": ("JOB segments good", KEPT),
    "undo": ("JOB", {"danger", "stop", "undone", "counts_again", "cells"}),
    "redo": ("UNDONE", {"danger", "stop", "redone", "undone", "cells"}),
    "repair": ("JOB switches.r1c1 --did cleaned", {"danger", "stop", "repair"}),
    "retest": ("JOB", {"danger", "stop", "matrix", "cells", "others"}),
    "photo": ("JOB HERE/picture.jpg --caption hood", ACT | {"photo"}),
    "photos": ("JOB --to HERE", ACT | {"photos", "written"}),
    "status": ("JOB", {"danger", "stop", "job", "coverage", "lists"}),
    "later": ("JOB", {"danger", "stop", "later"}),
    "log": ("JOB", {"log"}),
    "job new": ("HERE/layout.toml --name Second", ACT),
    "job again": ("JOB", ACT),
    "job list": ("", {"jobs"}),
    "job edit": ("JOB --owner Club", ACT),
    "job close": ("JOB works", ACT),
    "job reopen": ("CLOSED", ACT),
    "job archive": ("JOB", ACT),
    "job compare": ("JOB CLOSED", {"job", "then", "cells", "lines"}),
    "job show": ("JOB", {"danger", "stop", "job", "rounds", "coverage", "matrices"}),
    "job relayout": ("JOB HERE/other.toml --yes", ACT | {"differences"}),
    "job export": ("JOB HERE/job.jsonl", {"written"}),
    "job import": ("HERE/elsewhere.jsonl", {"job", "added", "events", "ahead"}),
    "book path": ("", {"path"}),
    "book backup": ("HERE/copy.book", {"written", "events"}),
    "book verify": ("", {"path", "events", "photos"}),
    "suspects": (
        "JOB",
        {"danger", "stop", "explanations", "suspects", "cells", "next", "checks", "searched", "rates", "answer"},
    ),
    "checks": ("JOB", {"danger", "stop", "measuring", "groups"}),
    "diagnose": ("HERE/layout.toml HERE/readings.jsonl", set()),
    "predict": ("HERE/layout.toml --fault open:Q2", {"readings"}),
    "rates": ("", {"source", "closed_jobs", "weight", "rates"}),
    "layout check": ("HERE/layout.toml", {"problems", "diagnostics"}),
    "layout list": ("", {"layouts"}),
    "layout show": ("HERE/layout.toml", {"path", "machine", "matrices", "layout"}),
    "layout chart": ("HERE/layout.toml --to HERE/chart.txt", {"written", "not_held"}),
    "layout set": ("HERE/layout.toml switches.1.name gate", {"written", "copy", "changes", "warnings", "job"}),
    "layout import": (
        "HERE/chart.csv --out HERE/made.toml --name Pond",
        {"written", "machine", "matrices", "guesses", "read_as", "left_out", "problems"},
    ),
    "layout new": ("--out HERE/new.toml --matrix 'switch 2x2 12'", {"written"}),
    "report": ("JOB --to HERE/report.md", {"written"}),
    "serve devices": ("", {"devices"}),
    "serve forget": ("1", {"forgotten"}),
    "demo": (
        "visit --out HERE/demo",
        {"invented", "scene", "planted", "found", "states", "states_wrong", "steps", "written"},
    ),
    "config show": ("", {"settings"}),
    "config path": ("", {"path"}),
    "config set": ("theme light", {"path", "key", "comes_first"}),
    "config keys": ("", {"keys"}),
}
"""Of each command what is typed after it, and the keys that its JSON has beside `format`."""
SAME_AS = {"diagnose": "suspects"}


def commands() -> Iterator[tuple[str, Any]]:
    """Every command that does something, by the words after the program's name."""

    def walk(words: tuple[str, ...], command: Any) -> Iterator[tuple[str, Any]]:
        inner = getattr(command, "commands", None)
        if inner is None:
            yield " ".join(words), command
        else:
            for name, one in inner.items():
                yield from walk((*words, name), one)

    yield from walk((), program())


def evening(bench: Bench, name: str) -> str:
    """A job with marks and a repair after which a cell is due."""
    job = bench.new_job(LAYOUT, name)
    bench.mark(job, "switches", "1 4- 5- 8-")
    bench.repair(job, "switches.r2c3", "new leaf")
    return job


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A folder with a book of several jobs and the files that commands read; the jobs by what stands for them."""
    folder = tmp_path_factory.mktemp("made")
    (folder / "layout.toml").write_text(LAYOUT_TEXT)
    (folder / "other.toml").write_text(LAYOUT_TEXT.replace("left lane", "gate"))
    (folder / "chart.csv").write_text(",1,2\n1,left lane,pond 1\n2,right lane,pond 2\n")
    (folder / "readings.jsonl").write_text('{"matrix": "switches", "cell": 1, "mark": "dead"}\n')
    Image.new("RGB", (40, 30), "teal").save(folder / "picture.jpg")
    minutes = itertools.count()

    def bench_at(name: str) -> Bench:
        return Bench(folder / name, clock=lambda: START + timedelta(minutes=next(minutes)), client=command_line())

    bench = bench_at("bench.book")
    jobs = {name: evening(bench, name) for name in ("JOB", "CLOSED", "UNDONE")}
    jobs["GLOW"] = bench.new_job(saltmarsh_tram(), "GLOW")
    bench.rest_scan(jobs["GLOW"], "lamps", "7")
    bench.close_job(jobs["CLOSED"], "works")
    bench.undo(jobs["UNDONE"])
    bench.close()
    Devices(file_beside(bench.path)).add("phone")
    other = bench_at("elsewhere.book")
    (folder / "elsewhere.jsonl").write_text(other.exported(evening(other, "elsewhere")))
    other.close()
    return folder, jobs


@pytest.fixture
def here(made: tuple[Path, dict[str, str]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder, as this test's own."""
    copied = Path(shutil.copytree(made[0], tmp_path / "here"))
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(copied / "bench.book"))
    monkeypatch.setenv("MATRIXCHECK_CONFIG", str(copied / "config.toml"))
    return copied


@pytest.fixture
def typed(made: tuple[Path, dict[str, str]], here: Path) -> Callable[[str], list[str]]:
    """Make words of what is typed: JOB and the like stand for jobs of the book, HERE for the folder."""

    def words(text: str) -> list[str]:
        return [made[1].get(word, word.replace("HERE", str(here))) for word in shlex.split(text)]

    return words


def test_every_command_that_prints_a_result_prints_it_as_json_too() -> None:
    has = {words: any("--json" in one.opts for one in command.params) for words, command in commands()}
    assert {words for words, one in has.items() if not one} == set(WITHOUT)
    assert {words for words, one in has.items() if one} == set(CASES)


@pytest.mark.parametrize("command", CASES)
def test_the_json_of_a_command_is_one_text_with_its_keys_and_nothing_else(
    command: str, typed: Callable[[str], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    after, _ = CASES[command]
    code = main([*command.split(), *typed(after), "--json"])
    shown = capsys.readouterr()
    assert (code, shown.err) == (0, "")
    data = json.loads(shown.out)
    assert data["format"] == 1
    assert set(data) - {"format"} == CASES[SAME_AS.get(command, command)][1]


@pytest.mark.parametrize(
    ("command", "keys"),
    [
        ("safety JOB", {"counts", "safety"}),
        ("checklist JOB", {"danger", "stop", "counts", "lines"}),
        ("finding JOB Q2 replaced", {"danger", "stop", "finding", "repair", "follows"}),
        ("layout set HERE/layout.toml switches.1.name 'left lane'", CASES["layout set"][1]),
        ("layout set HERE/layout.toml switches.1.name gate --job JOB", CASES["layout set"][1]),
    ],
)
def test_a_command_has_the_same_keys_in_all_that_it_does(
    command: str, keys: set[str], typed: Callable[[str], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*typed(command), "--json"]) == 0
    assert set(json.loads(capsys.readouterr().out)) == {"format", *keys}


@pytest.mark.parametrize(
    ("command", "code"),
    [
        ("mark JOB switches 99", 3),
        ("mark nobody switches 1", 2),
        ("job relayout JOB HERE/other.toml", 2),
        ("job export JOB -", 2),
        ("report JOB --to -.md", 2),
        ("layout show HERE/layout.toml --toml", 2),
        ("layout chart HERE/layout.toml --to -", 2),
        ("layout new --out HERE/new.toml", 2),
        ("book verify --book HERE/layout.toml", 4),
    ],
)
def test_with_json_an_error_is_still_one_line_on_stderr(
    command: str, code: int, typed: Callable[[str], list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*typed(command), "--json"]) == code
    shown = capsys.readouterr()
    assert (shown.out, shown.err.count("\n")) == ("", 1)


def test_with_json_nobody_is_asked(
    typed: Callable[[str], list[str]], here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    elsewhere = Bench(here / "bench.book", client="another page")
    job = typed("JOB")[0]
    elsewhere.mark(job, "switches", "2")
    elsewhere.close()
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    assert main(["undo", job, "--json"]) == 2
    assert "add --yes" in capsys.readouterr().err
    assert main(["undo", job, "--json", "--yes"]) == 0
    assert json.loads(capsys.readouterr().out)["cells"] == ["switches.r2c1"]
