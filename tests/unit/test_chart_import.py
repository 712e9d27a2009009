"""Charts as manuals print them become the layouts that were written by hand for them, cell by cell, line by line."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table as OdfTable
from odf.table import TableCell, TableRow
from odf.text import P
from openpyxl import Workbook

from matrixcheck.cli.main import main
from matrixcheck.layout.charts.importing import Imported, import_charts
from matrixcheck.layout.charts.questions import Answers
from matrixcheck.layout.charts.sheets import read_sheets, text_sheet
from matrixcheck.layout.charts.understood import understood_lines
from matrixcheck.layout.files import parse_layout, read_layout
from matrixcheck.layout.model import Layout

CHARTS = Path(__file__).parents[1] / "data" / "charts"
SINGLE = sorted(path for path in CHARTS.iterdir() if path.suffix in (".csv", ".tsv"))
WANTED = tomllib.loads((CHARTS / "refused" / "wanted.toml").read_text(encoding="utf-8"))["chart"]


def imported(*paths: Path, answers: dict[str, str] | None = None) -> Imported:
    sheets = [sheet for path in paths for sheet in read_sheets(path)]
    return import_charts(sheets, None, Answers(answers or {}), "out.toml")


def facts(layout: Layout) -> Iterator[tuple[str, object]]:
    """Everything that a layout says, thing by thing, so that a difference names its cell or line."""
    for matrix in layout.matrices:
        head = (
            matrix.kind,
            matrix.numbering,
            matrix.strobe,
            matrix.diodes,
            matrix.volts,
            matrix.supply,
            matrix.rows_shared,
        )
        yield matrix.id, head
        yield f"{matrix.id} size", matrix.size
        for row, names in enumerate(matrix.cells, 1):
            for column, name in enumerate(names, 1):
                yield f"{matrix.id} r{row}c{column}", (name, matrix.number_at(row, column))
        for side, lines in (("column", matrix.columns), ("row", matrix.rows)):
            for place, line in enumerate(lines, 1):
                yield f"{matrix.id} {side} {place}", line
        for number, notes in matrix.notes.items():
            yield f"{matrix.id} notes of {number}", notes


def agrees(found: Imported, wanted: Path) -> None:
    assert found.problems == ()
    layout, due = parse_layout(found.text, "made"), read_layout(wanted)
    assert layout.name == due.name
    assert dict(facts(layout)) == dict(facts(due))
    described = {part.ref: part for part in layout.parts}
    assert [described.get(part.ref) for part in due.parts] == list(due.parts)


@pytest.mark.parametrize("chart", SINGLE, ids=lambda path: path.name)
def test_a_chart_gives_the_layout_that_was_written_for_it(chart: Path) -> None:
    found = imported(chart)
    agrees(found, chart.with_suffix(".toml"))
    assert found.decided.left_over == []


def as_xlsx(sheets: dict[str, list[list[str]]], path: Path) -> None:
    book = Workbook()
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append([_value(entry) for entry in row])
    book.save(path)


def as_ods(sheets: dict[str, list[list[str]]], path: Path) -> None:
    book = OpenDocumentSpreadsheet()
    for title, rows in sheets.items():
        table = OdfTable(name=title)
        for row in rows:
            line = TableRow()
            for entry in row:
                value = _value(entry)
                kinds = {"valuetype": "float", "value": value} if isinstance(value, float) else {"valuetype": "string"}
                cell = TableCell(**kinds)
                cell.addElement(P(text=entry))
                line.addElement(cell)
            table.addElement(line)
        book.spreadsheet.addElement(table)
    book.save(path)


def _value(entry: str) -> str | float | None:
    """What a person who types an entry into a spreadsheet gets: numbers become numbers."""
    try:
        return float(entry)
    except ValueError:
        return entry or None


@pytest.mark.parametrize(("suffix", "write"), [(".xlsx", as_xlsx), (".ods", as_ods)])
def test_each_sheet_of_a_workbook_is_a_chart(
    tmp_path: Path, suffix: str, write: Callable[[dict[str, list[list[str]]], Path], None]
) -> None:
    sheets = {}
    for path in sorted((CHARTS / "whole-machine").iterdir()):
        with path.open(newline="", encoding="utf-8") as file:
            sheets[path.stem] = list(csv.reader(file))
    book = tmp_path / f"whole-machine{suffix}"
    write(sheets, book)
    agrees(imported(book), CHARTS / "whole-machine.toml")


MILL = [
    CHARTS / "tide-mill" / name
    for name in ("lamps.tsv", "coils.csv", "inputs.csv", "lighting.csv", "switches.csv", "switch-names.csv")
]


def mill(paths: list[Path]) -> Imported:
    sheets = [sheet for path in paths for sheet in read_sheets(path)]
    return import_charts(sheets, "Tide Mill", Answers({}), "out.toml")


def test_charts_of_all_kinds_in_one_call_give_one_layout() -> None:
    found = mill(MILL)
    agrees(found, CHARTS / "tide-mill.toml")
    assert [guess.question.key for guess in found.guesses] == ["numbering.lighting"]


def test_what_a_layout_has_no_place_for_is_named_once_for_rows_that_say_the_same() -> None:
    lines = [line.strip() for line in understood_lines(mill(MILL), 100)]
    assert lines[lines.index("Left out of the layout:") + 1 :] == [
        "lamps.tsv, row 6, column A: 'Note: lamps 11 and 21 are type B.', below the grid",
        "coils.csv, row 2, column I: 'Coil Part No.' is no heading that is known here; "
        "left out: C-90, C-90, C-90, C-91, C-91",
        "coils.csv, rows 3 to 5, column C: 'High Power': a kind of device that a layout has no word for",
        "coils.csv, rows 3 to 5, column D: '50V' under volts: a layout has no place for it",
        "coils.csv, row 6, column C: 'High Power' under type: a layout has no place for it",
        "coils.csv, row 6, column D: '50V' under volts: a layout has no place for it",
        "coils.csv, rows 7 to 8, column D: '20V' under volts: a layout has no place for it",
    ]


def test_a_list_of_no_kind_whose_numbers_two_matrices_have_is_asked_about(tmp_path: Path) -> None:
    bare = tmp_path / "names.csv"
    text = (CHARTS / "tide-mill" / "switch-names.csv").read_text(encoding="utf-8")
    bare.write_text(text.replace("Sw. No.", "No."), encoding="utf-8")
    found = mill([MILL[0], MILL[4], bare])
    assert [guess.question.text for guess in found.guesses] == ["names.csv: switch, lamp or coil?"]
    matrices = parse_layout(found.text, "made").matrices
    assert {matrix.id: matrix.fitted[0].name for matrix in matrices} == {
        "lamps": "Mill wheel",
        "switches": "Start button",
    }


def test_numbers_alone_are_called_by_their_kind_until_a_chart_names_them() -> None:
    matrix = parse_layout(mill([MILL[4]]).text, "made").matrices[0]
    assert [cell.name for cell in matrix.fitted] == [f"switch {number}" for number in (11, 12, 21, 22, 31, 32)]


@pytest.mark.parametrize("case", WANTED, ids=lambda case: case["files"][0])
def test_what_cannot_be_taken_as_it_stands_is_said(
    case: dict[str, object], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = [str(CHARTS / "refused" / name) for name in case["files"]]  # type: ignore[attr-defined]
    out = tmp_path / "made.toml"
    code = main(["layout", "import", *files, "--out", str(out)])
    shown = capsys.readouterr()
    assert code == case["code"]
    assert out.exists() == (code == 0)
    text = " ".join((shown.err if code else shown.out).split())
    assert [words for words in case["says"] if words not in text] == []  # type: ignore[attr-defined]


def test_an_answer_given_beforehand_is_taken_and_no_guess() -> None:
    chart = CHARTS / "refused" / "unsure-wires.csv"
    found = imported(chart, answers={"wire.gr": "GN", "wire.BL": "BU", "name": "Invented"})
    columns = parse_layout(found.text, "made").matrices[0].columns
    assert [line.wire for line in columns] == ["GN/BN", "GN/RD", "BU/RD"]
    assert found.guesses == ()


def test_a_wire_that_is_not_sure_is_left_out_and_named() -> None:
    found = imported(CHARTS / "refused" / "unsure-wires.csv")
    assert [line.wire for line in parse_layout(found.text, "made").matrices[0].columns] == [None, None, None]
    assert [guess.question.key for guess in found.guesses] == ["name", "wire.GR", "wire.BL"]


def test_a_list_adds_to_the_grid_that_has_its_numbers() -> None:
    files = [CHARTS / "refused" / f"grid-and-list-{count}.csv" for count in (1, 2)]
    layout = parse_layout(imported(*files).text, "made")
    assert layout.matrix_ids == ("switches",)
    assert [line.wire for line in layout.matrices[0].columns] == ["GN/BN", "GN/RD"]
    assert [cell.notes.zone for cell in layout.matrices[0].fitted] == [
        "lower left",
        "lower right",
        "upper left",
        "upper right",
    ]


def test_what_is_read_against_the_print_is_listed_as_a_guess() -> None:
    zero = imported(CHARTS / "switches-from-zero.csv")
    assert [str(note) for note in zero.decided.guessed] == [
        "switches-from-zero.csv, row 5, column B: '00 Reed': 0 is no number of a device here; "
        "'Reed' is read as its name"
    ]
    assert [guess.question.key for guess in zero.guesses] == ["name", "number.switches.r1c1"]
    parts = imported(CHARTS / "lamps-list-in-three-parts.csv")
    assert [str(note) for note in parts.decided.guessed] == [
        "lamps-list-in-three-parts.csv, row 4: 5 has no name: read as not fitted"
    ]


def test_the_word_in_the_corner_of_a_grid_says_its_kind() -> None:
    text = "Lamps,1,2\n1,11 mast,21 sail\n2,12 keel,22 hull\n"
    found = import_charts([text_sheet(text, "chart.csv")], "x", Answers({}), "out.toml")
    assert parse_layout(found.text, "made").matrices[0].kind == "lamp"
    assert found.guesses == ()
