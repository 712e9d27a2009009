"""Charts printed from layouts: read back they give the same layout, and what they can't hold is said."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest
from drawn_layouts import layouts
from hypothesis import given, settings
from msgspec.structs import replace

from matrixcheck.cli.main import main
from matrixcheck.layout.charts.exported import csv_of
from matrixcheck.layout.charts.importing import Imported, import_charts
from matrixcheck.layout.charts.pages import drawing_of, page_of, text_of
from matrixcheck.layout.charts.printed import not_held
from matrixcheck.layout.charts.questions import Answers
from matrixcheck.layout.charts.sheets import text_sheet
from matrixcheck.layout.files import find_layout, read_layout, shipped
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout, Line, Matrix

TRAM = read_layout(find_layout("saltmarsh-tram"))


def held(layout: Layout) -> Layout:
    """The layout without what a chart has no place for."""

    def line(one: Line) -> Line:
        return replace(one, chain=None)

    def one(matrix: Matrix) -> Matrix:
        columns, rows = tuple(map(line, matrix.columns)), tuple(map(line, matrix.rows))
        return replace(matrix, columns=columns, rows=rows, notes={}, walk=())

    return replace(layout, parts=(), matrices=tuple(map(one, layout.matrices)))


def back(text: str) -> Imported:
    found = import_charts([text_sheet(text, "chart.csv")], None, Answers({}), "made.toml")
    assert (found.problems, found.guesses, found.decided.left_over) == ((), (), [])
    return found


def layout_of(found: Imported) -> Layout:
    return replace(layout_in(found.decided.data), parts=())


@given(layouts())
@settings(max_examples=40)
def test_an_exported_chart_gives_the_same_layout(layout: Layout) -> None:
    assert layout_of(back(csv_of(layout))) == held(layout)


@pytest.mark.parametrize("name", sorted(shipped()))
def test_the_charts_of_every_shipped_layout_give_it_back(name: str) -> None:
    layout = read_layout(shipped()[name])
    assert layout_of(back(csv_of(layout))) == held(layout)


@given(layouts())
@settings(max_examples=25)
def test_a_chart_that_holds_everything_says_of_nothing_that_it_is_lost(layout: Layout) -> None:
    assert list(not_held(layout)) == []


def test_everything_that_a_chart_loses_is_said() -> None:
    said = " ".join(not_held(TRAM))
    words = (
        "chain",
        "zone",
        "reach",
        "closed at rest",
        "device",
        "fitted",
        "keep-warm",
        "ohms",
        "order of the test",
        "parts",
    )
    assert [word for word in words if word not in said] == []


def shown_names(layout: Layout) -> list[str]:
    return [cell.name for matrix in layout.matrices for cell in matrix.fitted]


def test_every_device_and_every_wire_is_on_every_form_of_the_chart() -> None:
    wires = {line.wire for matrix in TRAM.matrices for line in matrix.lines.values() if line.wire}
    for text in (page_of(TRAM, False), csv_of(TRAM)):
        assert [name for name in shown_names(TRAM) if name not in text] == []
        assert [wire for wire in wires if wire not in text] == []
    for text in (text_of(TRAM, False, 100), drawing_of(TRAM, False)):  # which fold names
        assert [word for name in shown_names(TRAM) for word in name.split() if word not in text] == []
        assert [wire for wire in wires if wire not in text] == []


@pytest.mark.parametrize("width", [60, 78, 100])
def test_a_chart_as_text_is_no_wider_than_it_may_be(width: int) -> None:
    assert max(map(len, text_of(TRAM, True, width).splitlines())) <= width


def test_what_is_typed_into_a_layout_never_becomes_markup() -> None:
    table = {"id": "m", "kind": "lamp", "cells": [['<script>"&']]}
    layout = layout_in({"format": 1, "name": "<b>&", "matrix": [table]})
    assert "<script>" not in page_of(layout, True)
    root = ElementTree.fromstring(drawing_of(layout, True))
    assert '<script>"&' in "".join(root.itertext())


def test_a_sheet_to_tick_on_has_a_line_for_each_device_and_none_for_a_gap() -> None:
    count = len(shown_names(TRAM))
    assert page_of(TRAM, True).count('class="tick"') == count
    assert text_of(TRAM, True, 100).count("________") == count


def test_the_command_writes_each_form_and_refuses_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    starts = {"txt": "Saltmarsh Tram", "html": "<!doctype html>", "svg": "<?xml", "csv": "machine:,Saltmarsh Tram"}
    for suffix, start in starts.items():
        path = tmp_path / f"chart.{suffix}"
        assert main(["layout", "chart", "saltmarsh-tram", "--to", str(path)]) == 0
        assert path.read_text(encoding="utf-8").startswith(start)
        assert "the chain of 14 lines" in capsys.readouterr().out
    assert main(["layout", "chart", "saltmarsh-tram", "--to", str(tmp_path / "chart.csv")]) == 2
    assert re.search("is there already.*--overwrite", capsys.readouterr().err)
    assert main(["layout", "chart", "saltmarsh-tram", "--to", str(tmp_path / "chart.odt")]) == 2
    assert main(["layout", "chart", "saltmarsh-tram", "--to", str(tmp_path / "ticks.csv"), "--ticks"]) == 2
    assert not (tmp_path / "ticks.csv").exists()
