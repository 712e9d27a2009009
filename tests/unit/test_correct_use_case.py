"""A layout put right in mid-job, as the bench does it: the job always, its file where that still says the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from matrixcheck.bench import Bench, correcting
from matrixcheck.errors import InputError
from matrixcheck.layout.edit.keys import Change, Key
from matrixcheck.layout.files import find_layout, read_found, read_layout, shipped
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.source import LayoutSource

NAME = Change(Key(CellKey("switches", 1, 1), "name"), "kiosk door")
WIRE = Change(Key(LineKey("switches", "column", 1), "wire"), "GN/WH")
WRONG = Change(Key(LineKey("switches", "column", 1), "wire"), "GN/XX")


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench.book")


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "own" / "pier.toml"
    path.parent.mkdir()
    path.write_bytes(b"# mine\n" + find_layout("switch-8x8").read_bytes())
    return path


@pytest.fixture
def job(bench: Bench, file: Path) -> str:
    layout, source = read_found(str(file))
    return bench.new_job(layout, "Pier", source=source)


def test_the_job_and_its_file_say_the_same_afterwards(bench: Bench, job: str, file: Path) -> None:
    done = bench.correct(job, [NAME, WIRE], own_file=True)
    assert (done.file, done.copy_of, done.trouble) == (file, "", "")
    assert "kiosk door" in done.said
    assert read_layout(file) == bench.state(job).layout
    assert file.read_bytes().startswith(b"# mine\n")
    assert bench.layout_news(job) == ""


def test_one_undo_takes_all_of_it_back_in_the_job_and_says_that_the_file_stays(
    bench: Bench, job: str, file: Path
) -> None:
    before = bench.state(job).layout
    bench.correct(job, [NAME, WIRE], own_file=True)
    assert bench.undo(job).what[-1] == "pier.toml is not changed back"
    assert bench.state(job).layout == before
    assert read_layout(file) != before
    assert bench.layout_news(job) != ""
    bench.redo(job)
    assert bench.state(job).layout == read_layout(file)
    assert bench.layout_news(job) == ""


def test_an_undo_of_anything_else_says_nothing_of_the_file(bench: Bench, job: str) -> None:
    bench.correct(job, [NAME], own_file=True)
    bench.mark(job, "switches", "11-")
    assert [words for words in bench.undo(job).what if "pier.toml" in words] == []


def test_what_would_be_no_layout_is_refused_in_one_line_and_changes_nothing(bench: Bench, job: str, file: Path) -> None:
    before, seq = file.read_bytes(), bench.state(job).seq
    with pytest.raises(InputError, match=r"^switches\.column\.1\.wire = 'GN/XX': "):
        bench.correct(job, [NAME, WRONG], own_file=True)
    assert (file.read_bytes(), bench.state(job).seq) == (before, seq)


def test_without_a_file_of_ones_own_none_is_looked_at(
    bench: Bench, job: str, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def looked_at(*_: object) -> None:
        raise AssertionError("a file was looked at")

    for name in ("path_of", "news_of", "_bytes_at", "_write", "source_of"):
        monkeypatch.setattr(correcting, name, looked_at)
    before = file.read_bytes()
    done = bench.correct(job, [NAME], own_file=False)
    assert (done.file, done.trouble) == (None, "")
    assert bench.state(job).layout.matrix("switches").by_number[11].name == "kiosk door"
    assert file.read_bytes() == before


@pytest.mark.parametrize("what", ["another layout", "no layout", "nothing"])
def test_a_file_that_a_job_from_elsewhere_names_is_left_alone_unless_it_holds_that_very_layout(
    bench: Bench, tmp_path: Path, what: str
) -> None:
    named = tmp_path / "named.toml"
    if what == "another layout":
        named.write_bytes(find_layout("lamp-8x8").read_bytes())
    elif what == "no layout":
        named.write_text("format = 1\n", encoding="utf-8")
    before = named.read_bytes() if named.exists() else None
    layout = read_layout(find_layout("switch-8x8"))
    job = bench.new_job(layout, "From elsewhere", source=LayoutSource(file=str(named), digest="0" * 64))
    done = bench.correct(job, [NAME], own_file=True)
    assert done.file is None
    assert done.trouble != ""
    assert (named.read_bytes() if named.exists() else None) == before
    assert bench.state(job).layout != layout


def test_a_layout_of_the_program_is_copied_beside_the_book_under_a_free_name(bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "switch-8x8.toml").write_text("mine, and none of the program's\n", encoding="utf-8")
    untouched = shipped()["switch-8x8"].read_bytes()
    layout, source = read_found("switch-8x8")
    job = bench.new_job(layout, "Shipped", source=source)
    done = bench.correct(job, [NAME], own_file=True)
    assert (done.file, done.copy_of) == (tmp_path / "switch-8x8-2.toml", "switch-8x8")
    assert read_layout(tmp_path / "switch-8x8-2.toml") == bench.state(job).layout
    again = bench.correct(job, [WIRE], own_file=True)
    assert (again.file, again.copy_of) == (tmp_path / "switch-8x8-2.toml", "")
    assert (tmp_path / "switch-8x8.toml").read_text(encoding="utf-8") == "mine, and none of the program's\n"
    assert shipped()["switch-8x8"].read_bytes() == untouched


def test_a_file_that_was_changed_between_reading_and_writing_is_left_alone(
    bench: Bench, job: str, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep = Bench._keep

    def slow(self: Bench, *words: object) -> object:
        kept = keep(self, *words)  # type: ignore[arg-type]
        file.write_bytes(file.read_bytes() + b"# and this\n")
        return kept

    monkeypatch.setattr(Bench, "_keep", slow)
    done = bench.correct(job, [NAME], own_file=True)
    assert done.trouble == "pier.toml was changed just now"
    assert file.read_bytes().endswith(b"# and this\n")
    assert bench.state(job).layout.matrix("switches").by_number[11].name == "kiosk door"


def test_a_job_whose_file_nobody_knows_is_put_right_alone(bench: Bench) -> None:
    job = bench.new_job(read_layout(find_layout("switch-8x8")), "Unknown")
    done = bench.correct(job, [NAME], own_file=True)
    assert (done.file, done.trouble) == (None, "")
