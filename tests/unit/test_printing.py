"""PDF by way of a browser: what is asked of it, and one clear line where there is none or it fails."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

import pytest
from report_case import LAYOUT

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.cli.printing import find_browser, printed, the_browser
from matrixcheck.errors import UsageError

WRITES = """
import sys
(target,) = [word.partition("=")[2] for word in sys.argv if word.startswith("--print-to-pdf=")]
page = open(sys.argv[-1].removeprefix("file://"), encoding="utf-8").read()
stamp = sys.argv[0].encode()
with open(target, "wb") as file:
    file.write(b"%PDF-1.7 " + page.encode() + b" /CreationDate (D:20311231235959+00'00') (node00000017) (node00000019)")
"""
FAILS = "raise SystemExit(1)"
WRITES_NOTHING = "pass"
WRITES_OTHER = WRITES.replace("%PDF-1.7", "oops")


@pytest.fixture
def no_browser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")


def installed(folder: Path, program: str, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A program by the name of a browser, the only one that is found."""
    browser = folder / "bin" / "chromium"
    browser.parent.mkdir(parents=True)
    browser.write_text(f"#!{sys.executable}\n{program}")
    browser.chmod(browser.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setenv("PATH", str(browser.parent))
    return browser


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    book = tmp_path / "books" / "bench.book"
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(book))
    bench = Bench(book)
    opened = bench.new_job(LAYOUT, "Evening")
    bench.close()
    return opened


@pytest.mark.usefixtures("no_browser")
def test_without_a_browser_one_line_says_what_to_do_and_nothing_is_written(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert find_browser() is None
    for options in ([], ["--card"]):
        words = ["report", job, "--to", str(tmp_path / "a.html"), "--to", str(tmp_path / "a.pdf"), *options]
        assert main(words) == 2
        shown = capsys.readouterr()
        assert (shown.out, shown.err.count("\n")) == ("", 1)
        assert "no browser" in shown.err
        assert ".html" in shown.err
    assert not list(tmp_path.glob("a.*"))


def test_the_first_browser_on_the_path_prints_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    browser = installed(tmp_path, WRITES, monkeypatch)
    assert find_browser() == browser
    found = printed("<p>a page</p>", the_browser(None))
    assert found.startswith(b"%PDF-1.7 <p>a page</p>")


def test_the_browser_that_is_set_comes_before_one_on_the_path_and_must_be_there(
    job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    own = installed(tmp_path, WRITES, monkeypatch).rename(tmp_path / "own")
    installed(tmp_path / "other", FAILS, monkeypatch)
    monkeypatch.setenv("MATRIXCHECK_BROWSER", str(own))
    assert main(["report", job, "--to", str(tmp_path / "a.pdf")]) == 0
    monkeypatch.setenv("MATRIXCHECK_BROWSER", str(tmp_path / "gone"))
    capsys.readouterr()
    assert main(["report", job, "--to", str(tmp_path / "b.pdf")]) == 2
    assert f"there is no browser {tmp_path / 'gone'}" in capsys.readouterr().err
    assert not (tmp_path / "b.pdf").exists()


def test_what_differs_from_one_printing_to_the_next_is_taken_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = printed("", installed(tmp_path, WRITES, monkeypatch))
    assert b"/CreationDate (D:20000101000000+00'00')" in found
    assert b"(node00000000) (node00000002)" in found


@pytest.mark.parametrize("program", [FAILS, WRITES_NOTHING, WRITES_OTHER])
def test_a_browser_that_writes_no_pdf_is_one_line_of_error(
    program: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = installed(tmp_path, program, monkeypatch)
    with pytest.raises(UsageError, match="did not write a PDF"):
        printed("<p>x</p>", browser)


def test_a_pdf_goes_to_a_file_or_to_standard_output(
    job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    installed(tmp_path, WRITES, monkeypatch)
    for options in ([], ["--card"], ["--paper", "letter"]):
        assert main(["report", job, "--to", str(tmp_path / "a.PDF"), "--to", "-.pdf", *options]) == 0
        written = (tmp_path / "a.PDF").read_bytes()
        assert written.startswith(b"%PDF-")
        assert b"size: letter" in written if "letter" in options else b"size: A4" in written
        assert capfdbinary.readouterr().out == written


@pytest.mark.parametrize("words", ["--card", "--card --to x.csv", "--card --to x.md", "--to x", "--to x.docx"])
def test_a_form_that_there_is_not_is_refused_in_one_line(
    words: str, job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    assert main(["report", job, *words.split()]) == 2
    shown = capsys.readouterr()
    assert (shown.out, shown.err.count("\n")) == ("", 1)
    assert sorted(tmp_path.iterdir()) == before


def test_grids_too_large_for_a_card_are_refused_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from matrixcheck.layout.files import parse_layout  # noqa: PLC0415

    cells = [[f"lamp {row} {column}" for column in range(24)] for row in range(40)]
    layout = parse_layout(f'format = 1\nname = "Big"\n[[matrix]]\nid = "big"\nkind = "lamp"\ncells = {cells}\n', "big")
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))
    bench = Bench(tmp_path / "bench.book")
    opened = bench.new_job(layout, "Big")
    bench.close()
    assert main(["report", opened, "--card", "--to", str(tmp_path / "card.html")]) == 2
    shown = capsys.readouterr()
    assert (shown.out, shown.err.count("\n")) == ("", 1)
    assert "one page" in shown.err
    assert not (tmp_path / "card.html").exists()
