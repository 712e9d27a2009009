"""The command that imports charts: where they come from, what it writes, and what it never writes over."""

from __future__ import annotations

import io
import re
import subprocess
import sys
from pathlib import Path

import pytest

from matrixcheck.cli.main import main
from matrixcheck.layout.files import check_layout, parse_layout, read_layout

CHECKOUT = Path(__file__).parents[2]
CHARTS = CHECKOUT / "tests" / "data" / "charts"
GRID = CHARTS / "switches-header-rows.csv"


def named(path: Path) -> list[str]:
    return [cell.name for cell in read_layout(path).matrices[0].fitted]


def test_a_chart_on_standard_input_gives_the_same_layout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = tmp_path / "one.toml", tmp_path / "other.toml"
    assert main(["layout", "import", str(GRID), "--out", str(one), "--name", "x"]) == 0
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(GRID.read_bytes())))
    assert main(["layout", "import", "-", "--out", str(other), "--name", "x"]) == 0
    assert read_layout(one) == read_layout(other)


@pytest.mark.parametrize("coding", ["utf-8-sig", "utf-16", "cp1252"])
def test_a_chart_is_read_as_spreadsheets_save_it(tmp_path: Path, coding: str) -> None:
    chart, out = tmp_path / "chart.csv", tmp_path / "made.toml"
    chart.write_bytes((CHARTS / "lampes-french.csv").read_text(encoding="utf-8").encode(coding))
    assert main(["layout", "import", str(chart), "--out", str(out)]) == 0
    assert "épée" in named(out)


def test_standard_output_carries_the_layout_and_nothing_else(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["layout", "import", str(GRID), "--out", "-"]) == 0
    shown = capsys.readouterr()
    assert parse_layout(shown.out, "stdout").matrix_ids == ("switches",)
    assert "8 columns, 8 rows, 59 switches" in shown.err


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "mine.toml"
    out.write_text("by hand")
    assert main(["layout", "import", str(GRID), "--out", str(out), "--yes"]) == 2
    assert "is there already" in capsys.readouterr().err
    assert out.read_text() == "by hand"
    assert main(["layout", "import", str(GRID), "--out", str(out), "--yes", "--overwrite"]) == 0
    assert check_layout(out) == ()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--take", "wire.GR"], "has no value"),
        (["--take", "wire.ZZ=GN"], "leave no such thing open"),
        (["--take", "name="], ""),
    ],
)
def test_answers_that_nobody_asked_for_are_refused(
    tmp_path: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["layout", "import", str(GRID), "--out", str(tmp_path / "made.toml"), *words])
    assert code == (2 if said else 0)
    assert said in capsys.readouterr().err


def test_a_contact_that_a_chart_gives_twice_is_named_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chart, out = tmp_path / "misprint.csv", tmp_path / "made.toml"
    chart.write_text(GRID.read_text().replace("J2-3", "J2-2"))
    assert main(["layout", "import", str(chart), "--out", str(out)]) == 1
    shown = capsys.readouterr().out
    assert re.search(
        r"made\.toml:\d+: matrix\[1\]\.column\[3\]\.path\[3\]: is 'J2-2', a contact .*misprint\.csv, row 7, column G",
        shown,
    )
    assert len(check_layout(out)) == 1


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("empty.csv", b""),
        ("image.csv", b"\x89PNG\0\0"),
        ("book.xlsx", b"no zip"),
        ("book.ods", b""),
        ("long.csv", b"No.,Name\n1," + b"a " * 60_000),
    ],
)
def test_what_is_no_chart_is_refused_in_one_line(
    tmp_path: Path, name: str, content: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    assert main(["layout", "import", str(path), "--out", str(tmp_path / "made.toml")]) == 3
    said = capsys.readouterr().err
    assert said.startswith(name)
    assert said.count("\n") == 1


def test_without_the_reader_of_spreadsheets_it_says_how_to_get_it(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    path.write_bytes(b"any")
    start = "import sys; sys.modules['python_calamine'] = None; from matrixcheck.cli.main import main; sys.exit(main())"
    words = ["layout", "import", str(path), "--out", str(tmp_path / "made.toml")]
    ran = subprocess.run([sys.executable, "-c", start, *words], capture_output=True, text=True, check=False)
    assert ran.returncode == 2
    assert "pip install 'matrixcheck[sheets]'" in ran.stderr
