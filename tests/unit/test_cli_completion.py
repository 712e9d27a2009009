"""What a shell may complete, asked as shells ask: jobs, matrices, cells, parts, layouts, settings; quietly."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.layout.files import find_layout
from tests.machines import saltmarsh_tram, shipped_layout

Complete = Callable[[str], list[str]]
HOSTILE = """x"; touch spoilt; $(touch spoilt) `touch spoilt` [bold] 'a':b\\"; touch spoilt"""


@pytest.fixture(autouse=True)
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A book of two jobs on unlike machines."""
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))
    monkeypatch.setenv("MATRIXCHECK_CONFIG", str(tmp_path / "config.toml"))
    return tmp_path / "bench.book"


@pytest.fixture
def jobs(book: Path) -> dict[str, str]:
    """Its jobs by the layout they are on."""
    bench = Bench(book)
    found = {
        name: bench.new_job(shipped_layout(name), says)
        for name, says in (("saltmarsh-tram", "Invented tram"), ("switch-8x8", HOSTILE))
    }
    bench.close()
    return found


@pytest.fixture
def complete(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Complete:
    """Ask as bash does, for the last word of a line; what may stand there."""

    def asked(line: str) -> list[str]:
        words = line.split(" ")
        monkeypatch.setenv("COMP_WORDS", line)
        monkeypatch.setenv("COMP_CWORD", str(len(words) - 1))
        monkeypatch.setenv("_MATRIXCHECK_COMPLETE", "complete_bash")
        assert main([]) == 0
        shown = capsys.readouterr()
        assert shown.err == ""
        return shown.out.split()

    return asked


@pytest.mark.parametrize(
    "before", ["status", "open", "serve", "job show", "job compare", "job again", "mark", "report --card", "undo"]
)
def test_a_job_is_completed_wherever_one_is_named(before: str, complete: Complete, jobs: dict[str, str]) -> None:
    assert set(complete(f"matrixcheck {before} ")) == set(jobs.values())


def test_a_job_is_completed_from_its_first_letters(complete: Complete, jobs: dict[str, str]) -> None:
    for job in jobs.values():
        assert job in complete(f"matrixcheck status {job[:2]}")
    assert complete("matrixcheck status nosuch") == []


def test_the_book_that_is_named_anywhere_is_the_one_that_is_read(
    complete: Complete, jobs: dict[str, str], tmp_path: Path
) -> None:
    other = tmp_path / "other.book"
    bench = Bench(other)
    job = bench.new_job(shipped_layout("switch-8x8"), "Other")
    bench.close()
    assert complete(f"matrixcheck --book {other} status ") == [job]
    assert complete(f"matrixcheck status --book {other} ") == [job]
    assert job not in jobs.values()


@pytest.mark.parametrize(
    "line",
    ["mark JOB ", "rest JOB ", "defer JOB ", "retest JOB --matrix ", "job show JOB --matrix ", "job show --matrix "],
)
def test_a_matrix_is_completed_from_the_layout_of_the_job(line: str, complete: Complete, jobs: dict[str, str]) -> None:
    found = complete(f"matrixcheck {line.replace('JOB', jobs['saltmarsh-tram'])}")
    known = ["switches", "lamps", "coils", "inputs", "lighting"]
    assert found == (known if "JOB" in line else [])


@pytest.mark.parametrize("line", ["predict LAYOUT --matrix ", "layout chart LAYOUT --matrix "])
def test_a_matrix_is_completed_from_the_layout_that_is_named(line: str, complete: Complete, tmp_path: Path) -> None:
    own = Path(shutil.copy(find_layout("saltmarsh-tram"), tmp_path / "own.toml"))
    for layout in ("saltmarsh-tram", str(own)):
        assert "lamps" in complete(f"matrixcheck {line.replace('LAYOUT', layout)}")
    assert complete(f"matrixcheck {line.replace('LAYOUT', 'nosuch')}") == []


def test_cells_parts_and_lines_are_completed_from_the_layout(complete: Complete, jobs: dict[str, str]) -> None:
    job = jobs["saltmarsh-tram"]
    layout = saltmarsh_tram()
    numbers = [str(cell.number) for cell in layout.matrix("switches").fitted]
    assert sorted(complete(f"matrixcheck mark {job} switches ")) == sorted(numbers)
    assert complete(f"matrixcheck mark {job} switches 21 4") == sorted(one for one in numbers if one[0] == "4")
    assert {"Q3", "Q31"} <= set(complete(f"matrixcheck repair {job} Q3"))
    assert {"switches.c3", "switches.c8"} <= set(complete(f"matrixcheck finding {job} switches.c"))
    assert f"switches.{numbers[0]}" in complete(f"matrixcheck repair {job} switches.")


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("finding JOB Q3 ", {"good", "faulty", "replaced"}),
        ("safety JOB X1 ", {"pass", "fail", "waive"}),
        ("safety JOB batt", {"batteries"}),
        ("checklist JOB seg", {"segments"}),
        ("checklist JOB segments ", {"good", "faulty", "flickers", "not-fitted"}),
        ("demo ", {"evening", "visit"}),
        ("config set mains", {"mains_region"}),
        ("config set keys.und", {"keys.undo"}),
        ("config set bell ", {"on", "off"}),
        ("layout show salt", {"saltmarsh-tram"}),
        ("job re", {"relayout", "reopen"}),
        ("status JOB --js", {"--json"}),
    ],
)
def test_what_takes_one_of_a_few_words_is_completed(
    line: str, found: set[str], complete: Complete, jobs: dict[str, str]
) -> None:
    assert set(complete(f"matrixcheck {line.replace('JOB', jobs['saltmarsh-tram'])}")) == found


def test_layout_files_of_a_folder_are_completed_with_their_path(
    complete: Complete, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "in").mkdir()
    for name in ("mine.toml", "in/deep.toml", "two words.toml"):
        (tmp_path / name).write_text("")
    assert complete("matrixcheck layout check mi") == []  # a FILE: shells complete those themselves
    assert complete("matrixcheck layout show mi") == ["mine.toml"]
    assert complete("matrixcheck layout show in/") == ["in/deep.toml"]
    assert complete("matrixcheck layout show two") == []


@pytest.mark.parametrize("spoil", ["missing", "no book", "config", "cut off"])
def test_what_is_wrong_is_not_said_while_a_person_types_and_nothing_is_written(
    spoil: str, complete: Complete, book: Path, tmp_path: Path
) -> None:
    if spoil == "no book":
        book.write_bytes(b"no book" * 500)
    if spoil == "config":
        (tmp_path / "config.toml").write_text("theme = \n")
    before = sorted((path.name, path.read_bytes()) for path in tmp_path.iterdir())
    assert complete("matrixcheck status --book" if spoil == "cut off" else "matrixcheck status ") == []
    assert sorted((path.name, path.read_bytes()) for path in tmp_path.iterdir()) == before


def test_completing_reads_the_book_and_leaves_no_trace(
    complete: Complete, jobs: dict[str, str], tmp_path: Path
) -> None:
    before = sorted((path.name, path.read_bytes()) for path in tmp_path.iterdir())
    assert len(complete("matrixcheck status ")) == len(jobs)
    assert complete(f"matrixcheck repair {jobs['saltmarsh-tram']} Q3") != []
    assert sorted((path.name, path.read_bytes()) for path in tmp_path.iterdir()) == before


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_are_told_the_names_of_jobs_without_any_sign_of_theirs(
    shell: str, jobs: dict[str, str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("_MATRIXCHECK_COMPLETE", f"complete_{shell}")
    monkeypatch.setenv("_TYPER_COMPLETE_ARGS", "matrixcheck status ")
    monkeypatch.setenv("_TYPER_COMPLETE_FISH_ACTION", "get-args")
    assert main([]) == 0
    shown = capsys.readouterr()
    assert shown.err == ""
    assert f"{jobs['saltmarsh-tram']}" in shown.out
    assert "Invented tram" in shown.out
    assert "touch spoilt" in shown.out
    for sign in "$`;[]'":
        inside = shown.out.removeprefix("_arguments '*: :((").removesuffix("))'\n")
        assert sign not in inside


def test_fish_falls_back_to_files_where_nothing_is_known(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("_MATRIXCHECK_COMPLETE", "complete_fish")
    monkeypatch.setenv("_TYPER_COMPLETE_FISH_ACTION", "is-args")
    for line, code in (("matrixcheck status ", 1), ("matrixcheck job ", 0)):
        monkeypatch.setenv("_TYPER_COMPLETE_ARGS", line)
        assert main([]) == code
    assert capsys.readouterr().err == ""


def test_completing_imports_neither_the_analyser_nor_the_screens(jobs: dict[str, str]) -> None:
    code = "import sys; from matrixcheck.cli.main import main; main([]); print('|', *sys.modules)"
    around = {
        **os.environ,
        "COMP_WORDS": f"matrixcheck repair {jobs['saltmarsh-tram']} Q",
        "COMP_CWORD": "3",
        "_MATRIXCHECK_COMPLETE": "complete_bash",
    }
    done = subprocess.run([sys.executable, "-c", code], env=around, capture_output=True, text=True, check=True)
    offered, _, modules = done.stdout.partition("|")
    assert "Q3" in offered.split()
    loaded = {name.partition(".")[0] for name in modules.split()}
    assert loaded & {"numpy", "textual", "jinja2", "rapidfuzz", "tomlkit", "aiohttp"} == set()


@pytest.mark.skipif(shutil.which("bash") is None, reason="there is no bash here")
def test_bash_itself_completes_with_the_script_that_is_shown(jobs: dict[str, str], tmp_path: Path) -> None:
    (tmp_path / "bin").mkdir()
    program = tmp_path / "bin" / "matrixcheck"
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m matrixcheck.cli.main "$@"\n')
    program.chmod(0o755)
    job = jobs["switch-8x8"]
    typed = f"""
        source <(matrixcheck --show-completion)
        complete -p matrixcheck >/dev/null || exit 1
        COMP_WORDS=(matrixcheck mark {job} swi); COMP_CWORD=3
        _matrixcheck_completion matrixcheck; echo "${{COMPREPLY[@]}}"
        COMP_WORDS=(matrixcheck mark ""); COMP_CWORD=2
        _matrixcheck_completion matrixcheck; printf '%s ' "${{COMPREPLY[@]}}"
    """
    around = {**os.environ, "PATH": f"{program.parent}:{os.environ['PATH']}"}
    done = subprocess.run(
        ["bash", "--norc", "-c", typed], env=around, cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    first, second = done.stdout.splitlines()
    assert first == "switches"
    assert set(second.split()) == set(jobs.values())
    assert not (tmp_path / "spoilt").exists()
