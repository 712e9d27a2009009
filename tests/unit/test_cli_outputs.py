"""Files that commands write: whole or not at all, through no link, over nothing but a regular file, with its mode."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest
from report_case import LAYOUT

from matrixcheck import whole_files
from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.cli.outputs import Output, hand_over
from matrixcheck.errors import UsageError

OLD, NEW = "an older sheet", "a newer sheet"
DRAFT = ".matrixcheck-{}"


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A job with a mark, in a book outside the folder that is looked at."""
    book = tmp_path / "books" / "bench.book"
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(book))
    bench = Bench(book)
    opened = bench.new_job(LAYOUT, "Evening")
    bench.mark(opened, "switches", "1 2-")
    bench.close()
    return opened


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the outputs go."""
    there = tmp_path / "out"
    there.mkdir()
    return there


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    code = main(words)
    shown = capsys.readouterr()
    assert (code, shown.out, shown.err.count("\n")) == (2, "", 1), shown.err
    return shown.err


@pytest.mark.parametrize("mode", [0o600, 0o640, 0o664, 0o755])
def test_a_file_that_is_replaced_keeps_its_mode(folder: Path, mode: int) -> None:
    file = folder / "sheet.html"
    file.write_text(OLD)
    file.chmod(mode)
    hand_over([Output(file, NEW)])
    assert (file.read_text(), stat.S_IMODE(file.stat().st_mode)) == (NEW, mode)
    assert names(folder) == ["sheet.html"]


def test_a_new_file_has_the_mode_that_the_umask_leaves(folder: Path) -> None:
    before = os.umask(0o027)
    try:
        hand_over([Output(folder / "sheet.html", NEW)])
    finally:
        os.umask(before)
    assert stat.S_IMODE((folder / "sheet.html").stat().st_mode) == 0o640


@pytest.mark.parametrize("there", [True, False])
def test_a_link_laid_at_the_name_of_the_draft_is_not_followed(
    folder: Path, there: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even somebody who guessed the name of the draft gets nothing written through a link."""
    aim = folder / "aim"
    if there:
        aim.write_text(OLD)
    monkeypatch.setattr(whole_files, "_unguessed", lambda: "guessed")
    for planted in (DRAFT.format("guessed"), ".sheet.html.part"):
        (folder / planted).symlink_to(aim)
    with pytest.raises(UsageError, match="exists"):
        hand_over([Output(folder / "sheet.html", NEW)])
    assert aim.exists() is there
    assert not there or aim.read_text() == OLD
    assert not (folder / "sheet.html").exists()


def test_the_name_of_a_draft_is_another_each_time(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[str] = []
    replace = Path.replace
    monkeypatch.setattr(Path, "replace", lambda self, to: (seen.append(self.name), replace(self, to))[1])
    for _ in range(3):
        hand_over([Output(folder / "sheet.html", NEW)])
    assert len(set(seen)) == 3
    assert all("sheet" not in name for name in seen)


def fifo(path: Path) -> None:
    os.mkfifo(path)


def link(path: Path) -> None:
    path.with_name("aim").write_text(OLD)
    path.symlink_to(path.with_name("aim"))


def dangling(path: Path) -> None:
    path.symlink_to(path.with_name("nowhere"))


@pytest.mark.parametrize("make", [fifo, link, dangling, Path.mkdir], ids=["fifo", "link", "dangling link", "folder"])
@pytest.mark.parametrize("form", ["html", "csv", "json", "md"])
def test_what_is_no_regular_file_is_refused_and_stays(
    form: str, make: Callable[[Path], None], folder: Path, job: str, capsys: pytest.CaptureFixture[str]
) -> None:
    target = folder / f"sheet.{form}"
    make(target)
    before, kind = names(folder), stat.S_IFMT(target.lstat().st_mode)
    assert "sheet" in refused(["report", job, "--to", str(target)], capsys)
    assert (names(folder), stat.S_IFMT(target.lstat().st_mode)) == (before, kind)
    assert not (folder / "aim").exists() or (folder / "aim").read_text() == OLD


@pytest.mark.parametrize(
    "name",
    [
        "",
        ".",
        "..",
        "/",
        "/dev/null",
        "/dev/stdout",
        "-",
        ".html",
        "x" * 300 + ".html",
        "no\x00name.html",
        "sheet.docx",
    ],
)
def test_a_name_that_no_file_can_have_is_one_line(name: str, job: str, capsys: pytest.CaptureFixture[str]) -> None:
    refused(["report", job, "--to", name], capsys)


@pytest.mark.parametrize("order", [1, -1])
def test_of_two_outputs_neither_is_written_when_one_is_refused(
    order: int, folder: Path, job: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "sheet.html").write_text(OLD)
    for csv in (folder / "cells.docx", folder / "none" / "cells.csv"):
        options = [("--to", str(folder / "sheet.html")), ("--to", str(csv))][::order]
        refused(["report", job, *(word for option in options for word in option)], capsys)
        assert names(folder) == ["sheet.html"]
        assert (folder / "sheet.html").read_text() == OLD


@pytest.mark.parametrize("linked", [True, False])
@pytest.mark.parametrize("there", [True, False])
def test_what_was_put_in_place_is_taken_back_when_a_later_one_fails(
    there: bool, linked: bool, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As in a folder where only the owner of a file may replace it; also on a disk without hard links."""
    first, second = folder / "a.html", folder / "b.csv"
    for file in (first, second) if there else ():
        file.write_text(OLD)
    replace = Path.replace

    def stubborn(self: Path, to: Path) -> Path:
        if to == second and self.name.startswith(DRAFT.format("")) and self.read_text() == NEW:
            raise PermissionError(1, "Operation not permitted")
        return replace(self, to)

    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(Path, "replace", stubborn)
    if not linked:
        monkeypatch.setattr(Path, "hardlink_to", no_links)
    with pytest.raises(UsageError, match=r"b\.csv.*not permitted"):
        hand_over([Output(first, NEW), Output(second, NEW)])
    assert {file.name: file.read_text() for file in folder.iterdir()} == (
        {"a.html": OLD, "b.csv": OLD} if there else {}
    )


def test_a_full_disk_leaves_the_old_file_and_no_draft(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    (folder / "sheet.html").write_text(OLD)
    monkeypatch.setattr(whole_files.os, "fsync", full)
    with pytest.raises(UsageError, match="No space left"):
        hand_over([Output(folder / "sheet.html", NEW)])
    assert {file.name: file.read_text() for file in folder.iterdir()} == {"sheet.html": OLD}


def test_two_outputs_for_one_place_are_refused(folder: Path, job: str, capsys: pytest.CaptureFixture[str]) -> None:
    twice = str(folder / "sheet.md"), str(folder / ".." / "out" / "sheet.md")
    assert "two outputs" in refused(["report", job, "--to", twice[0], "--to", twice[1]], capsys)
    assert "two outputs" in refused(["report", job, "--to", "-.html", "--to", "-.csv"], capsys)
    assert names(folder) == []


def test_several_outputs_are_all_written(folder: Path, job: str, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "b.csv").write_text(OLD)
    words = ["report", job, "--to", str(folder / "a.html"), "--to", str(folder / "b.csv"), "--to", "-.json"]
    assert main(words) == 0
    assert names(folder) == ["a.html", "b.csv"]
    assert (folder / "a.html").read_text().startswith("<!doctype html>")
    assert (folder / "b.csv").read_text().startswith("matrix,")
    assert capsys.readouterr().out.startswith("{")


@pytest.mark.parametrize("name", ["evening.book", "evening.html"])
def test_the_demonstration_writes_through_no_link(
    name: str, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / name).symlink_to(tmp_path / "aim")
    assert name in refused(["demo", "--out", str(folder)], capsys)
    assert not (tmp_path / "aim").exists()
    assert names(folder) == [name]
