"""A layout put right from the command line, in its file and in a job that is under way, in every program at once."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.errors import UsageError
from matrixcheck.layout.files import read_found, read_layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.shipped import shipped

START = "import sys; from matrixcheck.cli.main import main; sys.exit(main())"
Run = Callable[..., tuple[int, str, str]]

MACHINE = """\
format = 1
name = "Invented"   # of course

[[matrix]]
id = "switches"
kind = "switch"
numbering = "column-then-row"
cells = [["gull", "crab"], ["rope", "bell"]]   # two by two

  # the wires
  [matrix.column]
  wire = ["GN/BN", "GN/RD"]
  chain = [[11, 12], [22, 21]]
"""


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The program, in a folder of its own: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))

    def run_(*args: str) -> tuple[int, str, str]:
        code = main(list(args))
        return code, *capsys.readouterr()

    return run_


@pytest.fixture
def machine(tmp_path: Path) -> Path:
    path = tmp_path / "machine.toml"
    path.write_text(MACHINE, encoding="utf-8")
    return path


@pytest.fixture
def job(run: Run, machine: Path) -> str:
    opened = run("job", "new", machine.name, "--name", "evening")[1].strip()
    run("mark", opened, "switches", "11", "12-", "21")
    return opened


def test_values_are_set_in_the_file_with_its_comments(run: Run, machine: Path) -> None:
    code, out, _ = run("layout", "set", "machine.toml", "switches.12.name", "rope end", "c2 wire", "GN/PK")
    assert (code, out.splitlines()) == (
        0,
        ["switches.12.name: rope -> rope end", "switches.column.2.wire: GN/RD -> GN/PK", "Written: machine.toml"],
    )
    assert machine.read_text() == MACHINE.replace('"rope"', '"rope end"').replace("GN/RD", "GN/PK")


@pytest.mark.parametrize(
    ("args", "code", "words"),
    [
        (["c2 wire", "gn/pk"], 3, "did you mean 'GN/PK'?"),
        (["switches.12.nmae", "x"], 2, "did you mean 'name'?"),
        (["switches.12.name"], 2, "'switches.12.name' has no value: give KEY VALUE"),
        (["switches.12.name", "x", "switches.11.number", "12"], 3, "12 would be two cells"),
    ],
)
def test_a_wrong_key_or_value_is_one_line_and_nothing_is_written(
    run: Run, machine: Path, args: list[str], code: int, words: str
) -> None:
    found, out, err = run("layout", "set", "machine.toml", *args)
    assert (found, out, err.count("\n")) == (code, "", 1)
    assert words in err
    assert machine.read_text() == MACHINE
    assert sorted(path.name for path in machine.parent.iterdir()) == ["machine.toml"]


def test_what_is_allowed_and_rarely_meant_is_said_once_it_is_new(run: Run, machine: Path) -> None:
    out = run("layout", "set", machine.name, "switches.12.name", "gull")[1]
    assert "warning: matrix[1].cells[2][1]" in out
    assert "warning" not in run("layout", "set", machine.name, "switches.21.name", "crabs")[1]


def test_a_layout_of_the_program_is_known_by_its_name_and_no_other_is_opened_over_the_network(machine: Path) -> None:
    assert read_found("saltmarsh-tram", own=False)[1].file == "saltmarsh-tram"
    assert read_found(str(machine))[1].file == str(machine.resolve())
    with pytest.raises(UsageError, match="no layout"):
        read_found(str(machine), own=False)


def test_a_layout_of_the_program_is_never_written_but_copied(run: Run, tmp_path: Path) -> None:
    before = shipped()["coil-8x2"].read_bytes()
    code, out, _ = run("layout", "set", "coil-8x2", "coils.volts", "24")
    assert (code, out.splitlines()[-1]) == (0, "Written: coil-8x2.toml, a copy of the one that comes with the program")
    assert shipped()["coil-8x2"].read_bytes() == before
    assert read_layout(tmp_path / "coil-8x2.toml").matrices[0].volts == 24
    assert (tmp_path / "layout.schema.json").is_file()
    code, _, err = run("layout", "set", "coil-8x2", "coils.volts", "28")
    assert (code, "set values in ./coil-8x2.toml" in err) == (2, True)
    assert run("layout", "set", "./coil-8x2.toml", "coils.volts", "28")[0] == 0


def test_a_job_says_when_its_layout_file_changed_or_is_gone(run: Run, machine: Path, job: str) -> None:
    def said() -> list[str]:
        news = json.loads(run("status", job, "--json")[1])["job"]["layout_news"]
        for shown in (run("job", "show", job)[1], run("status", job)[1]):
            assert ("layout" + "".join(news.split()) in "".join(shown.split())) is bool(news)
        return [news] if news else []

    assert said() == []
    machine.write_text(MACHINE + "# a comment alone\n", encoding="utf-8")
    assert said() == []
    run("layout", "set", "machine.toml", "switches.12.name", "rope end")
    assert said() == [f"the layout file changed: `job relayout {job} {machine}`"]
    machine.write_text(MACHINE.replace("switch", "swich"), encoding="utf-8")
    assert said() == [f"the layout file changed and has problems: `layout check {machine}`"]
    machine.unlink()
    assert said() == [f"the layout file is not there: {machine}"]
    assert run("mark", job, "switches", "22")[0] == 0


def test_a_relayout_shows_what_differs_and_goes_on_only_when_it_is_told_to(run: Run, machine: Path, job: str) -> None:
    run("layout", "set", machine.name, "switches.12.name", "rope end", "switches.column.2.chain", "21 22")
    code, out, err = run("job", "relayout", job, "machine.toml")
    assert (code, "add --yes" in err) == (2, True)
    assert [line.split() for line in out.splitlines()[2:]] == [
        ["switch", "12", "name", "rope", "rope", "end"],
        ["switch", "column", "2", "chain", "22", "21", "21", "22"],
    ]
    assert "rope end" not in run("later", job)[1]
    code, out, _ = run("job", "relayout", job, "machine.toml", "--yes")
    assert code == 0
    assert out.splitlines()[-1] == (
        "kept  layout put right: switch 12 name: rope -> rope end; switch column 2 chain: 22 21 -> 21 22"
    )
    assert "switch 12 (rope end) dead" in " ".join(run("log", job)[1].split())
    code, _, err = run("job", "relayout", job, "machine.toml", "--yes")
    assert (code, err) == (2, f"job {job} has this layout already: nothing differs\n")
    assert run("book", "verify")[0] == 0


def test_a_relayout_asks_on_a_terminal(run: Run, machine: Path, job: str) -> None:
    run("layout", "set", machine.name, "switches.12.name", "rope end")
    for answer, goes_on in ((b"n\n", False), (b"y\n", True)):
        ours, theirs = pty.openpty()
        args = [sys.executable, "-c", START, "job", "relayout", job, "machine.toml"]
        with subprocess.Popen(args, stdin=theirs, stdout=theirs, stderr=theirs) as done:
            os.write(ours, answer)
            done.wait()
        os.close(theirs)
        os.close(ours)
        assert ("layout put right" in run("log", job)[1]) is goes_on


def test_set_with_a_job_does_both_in_one_step(run: Run, machine: Path, job: str) -> None:
    code, out, _ = run("layout", "set", machine.name, "switches.12.name", "", "--job", job)
    assert code == 0
    assert "kept  layout put right: switch 12 (rope): fitted -> gone" in out
    status = run("status", job)[1]
    assert "kept without a cell: switch 12 (rope): 1 entry" in status
    assert "the layout file" not in status
    assert json.loads(run("status", job, "--json")[1])["job"]["without_cell"] == ["switch 12 (rope): 1 entry"]
    assert "KEPT WITHOUT A CELL" in run("report", job)[1]
    run("undo", job)
    assert "kept without a cell" not in run("status", job)[1]
    run("redo", job)
    assert "kept without a cell" in run("status", job)[1]


@pytest.mark.usefixtures("job")
def test_where_the_job_cant_be_kept_the_file_is_not_written(run: Run, machine: Path) -> None:
    code, _, err = run("layout", "set", "machine.toml", "switches.12.name", "x", "--job", "nosuch")
    assert (code, err.count("\n")) == (2, 1)
    assert machine.read_text() == MACHINE
    assert sorted(path.suffix for path in machine.parent.iterdir()) == sorted([".toml", ".book"])


@pytest.fixture
def two(tmp_path: Path, machine: Path) -> Iterator[tuple[Bench, Bench, str]]:
    here, there = (Bench(tmp_path / "two.book", client=name) for name in ("here", "there"))
    layout, source = read_found(str(machine))
    yield here, there, here.new_job(layout, "evening", source=source)
    here.close()
    there.close()


def test_every_program_follows_at_once(two: tuple[Bench, Bench, str], machine: Path) -> None:
    here, there, job = two
    here.mark(job, "switches", "11 12- 21 22-")
    assert there.diagnosis(job).suspects
    before = there.state(job)
    machine.write_text(MACHINE.replace('"bell"', '""').replace("[22, 21]", "[21]"), encoding="utf-8")
    layout, source = read_found(str(machine))
    here.relayout(job, layout, source)
    assert there.changed()
    assert there.state(job).layout == layout
    assert there.status(job)["switches"].total == 3
    assert CellKey("switches", 2, 2) not in {state.cell for state in there.diagnosis(job).cells}
    there.repair(job, "switches.r2")
    assert here.state(job).due == (CellKey("switches", 2, 1),)
    assert [item.number for item in here.later(job)] == [12]
    here.undo(job)
    assert there.state(job).standings[CellKey("switches", 2, 2)].retest_due == "switches.r2"
    assert there.state(job).layout == before.layout
    with pytest.raises(UsageError, match="has this layout already"):
        there.relayout(job, before.layout, before.source)


def test_a_job_that_was_put_right_goes_to_another_book_and_comes_back_from_a_file(
    two: tuple[Bench, Bench, str], machine: Path, tmp_path: Path
) -> None:
    here, there, job = two
    here.mark(job, "switches", "11 12-")
    machine.write_text(
        MACHINE.replace('["rope", "bell"]', '["", "bell"]').replace("[11, 12]", "[11]"), encoding="utf-8"
    )
    here.relayout(job, *read_found(str(machine)))
    here.undo(job)
    here.redo(job)
    other = Bench(tmp_path / "other.book", client="other")
    other.import_job(there.exported(job), "file")
    assert other.state(job).without_cell == here.state(job).without_cell
    assert other.log(job) == here.log(job)
    other.close()
    here.move_to(tmp_path / "moved.book", [job])
    assert here.state(job).standings == there.state(job).standings
    assert [one.recorded.event for one in here.state(job).without_cell] == [
        one.recorded.event for one in there.state(job).without_cell
    ]
    assert here.verify() == len(there.log(job))


def test_two_visits_are_compared_cell_by_cell_though_the_layout_was_put_right(
    two: tuple[Bench, Bench, str], machine: Path
) -> None:
    here, _, job = two
    here.mark(job, "switches", "11 22-")
    again = here.visit_again(job)
    machine.write_text(
        MACHINE.replace('[["gull", "crab"], ["rope", "bell"]]', '[["new", "gull", "crab"], ["", "rope", "bell"]]')
        .replace('numbering = "column-then-row"', 'numbering = "listed"\nnumbers = [[1, 11, 21], [0, 12, 22]]')
        .split("\n\n  # the wires")[0],
        encoding="utf-8",
    )
    here.relayout(again, *read_found(str(machine)))
    here.mark(again, "switches", "11 22")
    _, changes = here.changed_since(again)
    assert [(one.then.mark, one.now.mark, one.now.cell.number) for one in changes] == [(Mark.DEAD, Mark.WORKING, 22)]
