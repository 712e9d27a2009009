"""The forms of the report: each complete, none saying more of an untested cell than that it is untested."""

from __future__ import annotations

import csv
import io
import json
import re
import time
from dataclasses import replace

import pytest
from report_case import DIAGNOSIS, EVENTS, LAYOUT, LAYOUT_TEXT, START, at, seen, sheet_of_the_evening, state_after
from syrupy.assertion import SnapshotAssertion

from matrixcheck.diagnosis.result import Searched, to_json
from matrixcheck.diagnosis.words.sentences import percent, search_caution
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Mark
from matrixcheck.record.events import Deferred, JobOpened
from matrixcheck.record.summary import coverage_of
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.ranking import ranked
from matrixcheck.report.data import job_data, sheet_data
from matrixcheck.report.drawing.paper import PAPERS
from matrixcheck.report.glyphs import FILLS, GLYPHS, INK, LETTERS
from matrixcheck.report.page import page
from matrixcheck.report.plain import plain
from matrixcheck.report.reporting import report_of
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.spreadsheet import spreadsheet
from matrixcheck.tui.text.analysis import analysis_of


@pytest.fixture(autouse=True)
def _clock_of_greenwich(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()


def as_page(sheet: Sheet) -> str:
    """The report as a page for A4."""
    return page(report_of(sheet, PAPERS["a4"]), PAPERS["a4"])


def test_the_plain_report_reads_as_it_did(snapshot: SnapshotAssertion) -> None:
    assert plain(sheet_of_the_evening()) == snapshot


def test_the_plain_report_keeps_to_80_columns_and_plain_characters_of_one_cell() -> None:
    for line in plain(sheet_of_the_evening()).splitlines():
        assert len(line) <= 80
        assert line == line.rstrip()
        assert line.isprintable()


def test_every_untested_cell_is_called_untested_in_every_form() -> None:
    sheet = sheet_of_the_evening()
    untested = [key for key, standing in sheet.state.standings.items() if standing.mark is Mark.UNTESTED]
    assert as_page(sheet).count(">untested</text>") == len(untested)
    rows = {(row["matrix"], row["address"]): row["mark"] for row in csv.DictReader(io.StringIO(spreadsheet(sheet)))}
    assert {key: rows[key.matrix, key.address] for key in untested} == dict.fromkeys(untested, "untested")
    cells = {cell["cell"]: cell["mark"] for matrix in sheet_data(sheet)["matrices"] for cell in matrix["cells"]}
    assert {str(key) for key in untested} == {cell for cell, mark in cells.items() if mark == "untested"}
    assert plain(sheet).count(GLYPHS[Mark.UNTESTED] + LETTERS[Mark.UNTESTED]) == len(untested) + 1  # and the legend


def test_the_spreadsheet_has_every_fitted_cell_once_and_what_was_seen_of_it() -> None:
    rows = list(csv.DictReader(io.StringIO(spreadsheet(sheet_of_the_evening()))))
    fitted = [(matrix.id, str(cell.number)) for matrix in LAYOUT.matrices for cell in matrix.fitted]
    assert [(row["matrix"], row["number"]) for row in rows] == fitted
    by_place = {(row["matrix"], row["address"]): row for row in rows}
    assert by_place["switches", "r2c1"]["also answered"] == "r1c1"
    assert by_place["switches", "r3c1"]["answered instead"] == "r1c1"
    assert by_place["switches", "r2c2"]["faint"] == "r3c2"
    assert by_place["switches", "r3c2"]["put off"] == "ball stuck there"
    assert by_place["switches", "r2c3"]["test again after"] == "switches.r2c3"
    assert by_place["switches", "r1c1"]["probability of a cause of its own"] == "0.02"


@pytest.mark.parametrize(
    "start", ["=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20", "\ufe62", "\ufe63", " =", "\u3164@"]
)
def test_a_name_that_a_spreadsheet_would_compute_stays_a_name(start: str) -> None:
    renamed = parse_layout(LAYOUT_TEXT.replace("left lane", f"{start}1+1"), "renamed")
    state = state_after(JobOpened(name="x", layout=renamed))
    text = spreadsheet(Sheet(state, DIAGNOSIS, coverage_of(state), (), START))
    assert next(csv.DictReader(io.StringIO(text)))["name"] == f"'{start}1+1"


@pytest.mark.parametrize("start", ["\t", "\r", "\n", "\u200b=", "\ufeff\uff1d", "\x1b@"])
def test_signs_that_are_not_seen_hide_no_formula(start: str) -> None:
    """A reason that was kept by another version may hold what none is taken with today."""
    put_off = Deferred(cell=at(3, 2), reason=f"{start}1+1")
    rows = csv.DictReader(io.StringIO(spreadsheet(sheet_of_the_evening(put_off))))
    (shown,) = [row["put off"] for row in rows if (row["matrix"], row["address"]) == ("switches", "r3c2")]
    assert shown.startswith("'")
    assert shown.endswith("1+1")


def test_the_json_report_is_plain_values_and_carries_the_contract_of_the_analyser() -> None:
    data = json.loads(json.dumps(sheet_data(sheet_of_the_evening())))
    assert data["format"] == 1
    assert data["diagnosis"] == json.loads(json.dumps(to_json(DIAGNOSIS)))
    assert [check["passed"] for check in data["safety"]] == [True, False]
    assert data["job"]["opened_at"] == "2031-03-01T18:01:00+00:00"
    by_cell = {cell["cell"]: cell for matrix in data["matrices"] for cell in matrix["cells"]}
    assert by_cell["switches.r3c1"]["answered_instead"] == ["switches.r1c1"]
    assert by_cell["switches.r2c3"]["before_repair"] == "working"


def test_the_data_of_a_job_counts_as_its_coverage_does() -> None:
    state = state_after(*EVENTS)
    data = job_data(state, coverage_of(state))
    for matrix in data["matrices"]:
        marks = [cell["mark"] for cell in matrix["cells"]]
        counts = data["coverage"][matrix["id"]]
        assert {mark: marks.count(mark) for mark in map(str, Mark)} == {mark: counts[mark] for mark in map(str, Mark)}


def test_the_likeliest_set_comes_first_and_hopeless_ones_are_left_out() -> None:
    ranking = ranked(DIAGNOSIS)
    assert [one.id for one in ranking.shared] == ["s1"]
    assert ranking.private == ()
    assert [one.probability for one in ranking.sets] == [0.94, 0.05]


def test_causes_of_single_cells_stand_apart_from_shared_faults() -> None:
    second = DIAGNOSIS.model_copy(update={"explanations": DIAGNOSIS.explanations[1:2]})
    ranking = ranked(second)
    assert ranking.shared == ()
    assert [one.id for one in ranking.private] == ["s2", "s3"]


def test_nothing_suspected_is_said_together_with_what_is_untested() -> None:
    sheet = sheet_of_the_evening()
    none = DIAGNOSIS.model_copy(update={"explanations": (), "suspects": (), "checks": (), "next": ()})
    silent = Sheet(sheet.state, none, sheet.coverage, sheet.later, sheet.printed_at)
    for form in (plain(silent), as_page(silent)):
        assert re.search(r"\d+\s+cells\s+untested", form)


def test_a_search_that_was_cut_short_is_said_to_the_owner_and_first_in_the_answer() -> None:
    searched = Searched(exact=False, seconds=2.0, gap=0.12, finished=False)
    cut = DIAGNOSIS.model_copy(update={"searched": searched})
    sheet = replace(sheet_of_the_evening(), diagnosis=cut)
    caution = search_caution(searched)
    on_paper = " ".join(plain(sheet).split())
    on_the_page = " ".join(re.sub(r"<[^>]+>", " ", as_page(sheet)).split())
    told = analysis_of(cut, answer_of_job(cut, sheet.state))
    for form in (on_paper, on_the_page, " ".join((told.unfinished, *told.headline, *told.below))):
        assert form.count(caution) == 1
    for form in (on_paper, on_the_page):
        assert form.count("The search for causes is not finished") == 1
    assert re.search(rf"What is wrong {re.escape(caution)}", on_the_page)
    assert told.unfinished == caution


@pytest.mark.parametrize(
    ("probability", "words"),
    [(1.0, "over 99 %"), (0.994, "over 99 %"), (0.5, "50 %"), (0.012, "1 %"), (0.009, "under 1 %"), (0.0, "under 1 %")],
)
def test_no_probability_is_shown_as_certain(probability: float, words: str) -> None:
    assert percent(probability) == words


def _lightness(colour: str) -> float:
    """Relative luminance of a colour, WCAG 2.2, its definition of relative luminance."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_ink_on_each_fill_passes_the_contrast_that_wcag_asks_for_small_text() -> None:
    for fill in filter(None, FILLS.values()):
        assert (_lightness(fill) + 0.05) / (_lightness(INK) + 0.05) >= 4.5


def test_marks_differ_by_glyph_and_letter_and_not_by_colour_alone() -> None:
    assert len(set(GLYPHS.values())) == len(set(LETTERS.values())) == len(Mark)
    assert FILLS[Mark.UNTESTED] is None


def test_an_echo_stands_in_the_grid_beside_its_mark() -> None:
    sheet = sheet_of_the_evening(seen(1, 3, at(1, 3), at(2, 1)))
    assert f"7 {GLYPHS[Mark.WORKING]}w+" in plain(sheet)
