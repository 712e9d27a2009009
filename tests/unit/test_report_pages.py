"""The pages of a report: valid, whole, true to the job, whatever was typed; safety first, nothing harmless as stuck."""

from __future__ import annotations

import csv
import io
import json
import re
import time
from dataclasses import replace
from datetime import timedelta
from html.parser import HTMLParser

import html5lib
import pytest
from markdown_it import MarkdownIt
from report_case import DIAGNOSIS, EVENTS, LAYOUT, LAYOUT_TEXT, START, sheet_of_the_evening, state_after, suspect

from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.check_names import same
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.events import Event, Found, FunctionChecked, JobOpened, Noted, Read, Repaired, SafetyChecked
from matrixcheck.record.function_lists import function_lists
from matrixcheck.record.safety_checks import checklist, counts
from matrixcheck.record.summary import coverage_of, later_list
from matrixcheck.report.data import sheet_data
from matrixcheck.report.document import Points, Report, Table
from matrixcheck.report.drawing.paper import ENDLESS, PAPERS, Paper
from matrixcheck.report.job_facts import facts_of
from matrixcheck.report.markdown import markdown
from matrixcheck.report.page import card_page, page
from matrixcheck.report.plain import plain
from matrixcheck.report.reporting import card_of, report_of
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.spreadsheet import spreadsheet
from tests.machines import saltmarsh_tram
from tests.samples import some_of

PAPER = pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
TRAM = saltmarsh_tram()
WICKED = (
    "<script>alert(1)</script>", "</style><script>x</script>", "</title><b>x", "<!-- x", "]]>", "=cmd()", "&lt;b&gt;",
    "a\x00b", "\x1b[31mred", "\u202egnol", "[x](javascript:y)", "| a | b |", "`code`", "# head", "- point",
    "1. point", "*strong* _too_", "![x](y)", "</svg>", "'\"", "\\22 }", "多" * 30, "x" * 400,
)  # fmt: skip


@pytest.fixture(autouse=True)
def _clock_of_greenwich(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()


def sheet_of(*events: Event) -> Sheet:
    """A sheet of these events, with the evening's diagnosis only where it is the evening's machine."""
    state = state_after(*events)
    none = DIAGNOSIS.model_copy(update={"explanations": (), "suspects": (), "checks": (), "next": (), "cells": ()})
    return Sheet(state, none, coverage_of(state), later_list(state), START)


def empty(layout: Layout = TRAM) -> Sheet:
    """A job that was only opened."""
    return sheet_of(JobOpened(name="just in", layout=layout))


def as_page(sheet: Sheet, paper: Paper = PAPERS["a4"]) -> str:
    return page(report_of(sheet, paper), paper)


def as_card(sheet: Sheet, paper: Paper = PAPERS["a4"]) -> str:
    return card_page(card_of(sheet), paper)


def wicked(text: str) -> Sheet:
    """The evening with one text wherever a person may type one, as an old book might hold it."""
    name = " ".join(re.sub("[\x00\x1b\u202e]", "?", text).split())
    quoted = json.dumps(name, ensure_ascii=False)
    named = LAYOUT_TEXT.replace('"pond 1"', quoted).replace('name = "Reed Warbler"', f"name = {quoted}")
    layout = parse_layout(named.replace('name = "switch matrix"', f"name = {quoted}"), "wicked.toml")
    opened = JobOpened(name=text, serial=text, owner=text, layout=layout)
    more = (
        SafetyChecked(item=text, passed=False, note=text),
        Found(finding=Finding(place="Q2", verdict="faulty"), note=text),
        Repaired(place="Q1", note=text),
        Noted(text=text),
    )
    state = state_after(opened, *EVENTS[1:], *more)
    return Sheet(state, DIAGNOSIS, coverage_of(state), later_list(state), START)


class _Page(HTMLParser):
    """What a browser would make of a page: its tags, the attributes that would fetch something, its text."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.fetches: list[str] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.fetches += [value or "" for name, value in attrs if name in ("src", "href", "action", "srcset")]
        if tag != "meta":
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words += f" {data}"


def valid(html: str) -> None:
    """Parse as the WHATWG HTML standard says, where any parse error is one (html5lib, strict)."""
    html5lib.HTMLParser(strict=True).parse(html)


@PAPER
@pytest.mark.parametrize("make", [as_page, as_card])
def test_pages_are_valid_whole_fetch_nothing_and_run_nothing(make: object, paper: Paper) -> None:
    assert callable(make)
    for sheet in (sheet_of_the_evening(), empty(), empty(LAYOUT)):
        html = make(sheet, paper)
        valid(html)
        found = _Page(html)
        assert (found.open, found.fetches) == ([], [])
        assert not found.tags & {"script", "link", "img", "iframe"}
        assert "url(" not in html
        assert f"size: {paper.name};" in html


@pytest.mark.parametrize("text", some_of(WICKED, 5))
def test_what_was_typed_stays_text_in_every_form(text: str) -> None:
    sheet = wicked(text)
    for html in (as_page(sheet), as_card(sheet)):
        valid(html)
        found = _Page(html)
        assert found.open == []
        assert not found.tags & {"script", "b", "img"}
        style = html.partition("<style>")[2].partition("</style>")[0]
        assert style.count("{") == style.count("}")
        assert style.rstrip().endswith("}")
    rendered = MarkdownIt("commonmark").enable("table").render(markdown(report_of(sheet, ENDLESS)))
    assert not re.search(r"<(script|b|em|img|a|code|ol)\b", rendered)
    table = list(csv.reader(io.StringIO(spreadsheet(sheet))))
    assert {len(row) for row in table} == {len(table[0])}
    assert not any(value[:1] in "=+-@\t\r\n" for row in table for value in row if value)
    for form in (plain(sheet), spreadsheet(sheet), markdown(report_of(sheet, ENDLESS))):
        assert "\x1b" not in form
        assert "\x00" not in form


def test_the_page_tells_what_was_kept() -> None:
    words = " ".join(_Page(as_page(sheet_of_the_evening())).words.split())
    for told in (
        "Evening at the pond", "Reed Warbler", "=7/12", "Invented Club", "FAILED: mains lead (sheath cut)",
        "earth bond of the coin door passed", "94 %", "Also possible",
        "swapped with Q1", "new leaf", "ball stuck there", "Signature", "GN/BN", "jetty <& co>",
        "the <b>jetty</b> switch is bent", "local codes and a licensed person's judgement come first",
    ):  # fmt: skip
        assert told in words, told


@PAPER
def test_the_same_job_gives_the_same_bytes_at_any_time(paper: Paper) -> None:
    sheet = sheet_of_the_evening()
    later = replace(sheet, printed_at=sheet.printed_at + timedelta(days=400))
    assert as_page(sheet, paper) == as_page(later, paper)
    assert as_card(sheet, paper) == as_card(later, paper)
    assert markdown(report_of(sheet, paper)) == markdown(report_of(later, paper))
    assert spreadsheet(sheet) == spreadsheet(later)
    assert plain(sheet) == plain(later)


def table_of(report: Report, title: str) -> Table:
    """The table of the technician's section of that title."""
    (section,) = [section for section in report.technician if section.title == title]
    return next(block for block in section.blocks if isinstance(block, Table))


def test_counts_are_those_of_the_job() -> None:
    sheet = sheet_of_the_evening()
    table = table_of(report_of(sheet, PAPERS["a4"]), "How far it is tested")
    for row, count in zip(table.rows, coverage_of(sheet.state).values(), strict=True):
        working, dead, stuck, glowing, untested, due, deferred, total = map(int, row[1:])
        assert glowing == 0
        assert (working, dead, stuck, untested) == (count.working, count.dead, count.stuck, count.untested)
        assert (due, deferred, total) == (count.retest_due, count.deferred, count.total)
        assert working + dead + stuck + glowing + untested == total


GLOWING = tuple(cell.key for cell in TRAM.matrix("coils").fitted if cell.notes.keep_warm and cell.notes.fitted == "led")


def glowing_job(probability: float) -> Sheet:
    """A rest scan that shows the LEDs on keep-warm resistors, and a cause for it that is so likely."""
    seen = Read(reading=Reading(matrix="coils", answered=GLOWING))
    sheet = sheet_of(JobOpened(name="glow", layout=TRAM), seen)
    glow = Fault(fault=FaultClass.KEEP_WARM_GLOW, cells=GLOWING)
    found = suspect("s1", probability, "they glow", *GLOWING, member=glow)
    return replace(sheet, diagnosis=sheet.diagnosis.model_copy(update={"suspects": (found,)}))


def test_harmless_glow_is_stuck_in_no_count_of_any_form() -> None:
    assert GLOWING
    sheet = glowing_job(0.97)
    assert coverage_of(sheet.state)["coils"].stuck == len(GLOWING)
    count = sheet_data(sheet)["coverage"]["coils"]
    assert (count["stuck"], count["glowing"]) == (0, len(GLOWING))
    assert "stuck" not in [row["mark"] for row in csv.DictReader(io.StringIO(spreadsheet(sheet)))]
    assert f"{len(GLOWING)} glow without being faulty" in as_page(sheet)
    assert as_page(sheet).count(">glows</text>") == len(GLOWING)
    assert ">stuck</text>" not in as_page(sheet)
    assert "always on" not in as_page(sheet)
    assert f"{len(GLOWING)} glowing, no fault" in plain(sheet)
    assert not re.search(r"\d stuck", plain(sheet))


def test_a_glow_that_is_probably_a_fault_counts_as_stuck() -> None:
    sheet = glowing_job(0.3)
    assert sheet_data(sheet)["coverage"]["coils"]["stuck"] == len(GLOWING)
    assert as_page(sheet).count(">stuck</text>") == len(GLOWING)


def owner_words(sheet: Sheet) -> str:
    return " ".join(_Page(as_page(sheet).partition('<section class="technician">')[0]).words.split())


def passed(*items: str) -> tuple[Event, ...]:
    return tuple(SafetyChecked(item=item, passed=True) for item in items)


def test_failed_and_open_checks_are_loud_before_anything_was_found() -> None:
    opened = JobOpened(name="x", layout=LAYOUT)
    items = [one.item for one in checklist(sheet_of(opened).state)]
    failed = SafetyChecked(item="earth bond", passed=False, note="door 4 ohms")
    words = owner_words(sheet_of(opened, *passed(*items[1:]), failed))
    safety = words.partition("What was found")[0]
    assert "FAILED: earth bond (door 4 ohms)." in safety
    assert f"NOT CHECKED: {items[0]}." in safety
    assert "Do not use this machine" in safety
    put_right = owner_words(sheet_of(opened, failed, *passed(*(item.upper() for item in items))))
    assert "FAILED" not in put_right
    assert "NOT CHECKED" not in put_right
    assert "Do not use this machine" not in put_right


def test_plugs_and_fuses_take_a_row_each_that_counts_them_and_names_what_failed() -> None:
    askew = SafetyChecked(item="plug X5", passed=False, note="askew")
    waived = SafetyChecked(item="plug X14", passed=False, note="string not fitted", waived=True)
    fuses = [f"fuse F{count}" for count in range(1, 9)]
    sheet = sheet_of(JobOpened(name="x", layout=TRAM), askew, waived, *passed("plug X1", "plug X2", *fuses))
    rows = {row[0]: row[1:3] for row in table_of(report_of(sheet, PAPERS["a4"]), "Safety checks").rows}
    result, note = rows["15 plugs"]
    assert result == "FAILED"
    assert note == (
        "11 open, 1 FAILED, 2 passed, 1 waived; plug X5 FAILED (askew); plug X14 waived (string not fitted)"
    )
    assert rows["8 fuses"] == ("passed", "8 passed")
    assert not [item for item in rows if item.startswith(("plug X", "fuse F"))]
    safety = owner_words(sheet).partition("What was found")[0]
    assert "FAILED: plug X5 (askew)." in safety
    assert "11 of 15 plugs" in safety
    assert "Passed: 8 fuses, 2 of 15 plugs." in safety
    assert "Waived: plug X14 (string not fitted)." in safety
    words = " ".join(_Page(as_card(sheet)).words.split())
    assert "FAILED safety check: plug X5 (askew)." in words
    assert "Safety check waived: plug X14 (string not fitted)." in words


def test_paper_and_command_line_know_the_same_checks_each_standing_in_one_way() -> None:
    opened = JobOpened(name="x", layout=TRAM)
    facts = facts_of(sheet_of(opened, *passed("Mains  Lead", "fuse f1", "my own check")))
    items = checklist(facts.state)
    assert facts.safety == items
    count = counts(items)
    assert count.passed == 3
    assert sum(count) == len(items) == len({same(one.item) for one in items})


def test_nothing_untested_is_called_good() -> None:
    words = owner_words(empty())
    total = sum(count.total for count in coverage_of(empty().state).values())
    assert f"Of {total} devices, 0 work and {total} are not tested." in words
    assert "Nothing is tested yet." in words
    assert "Nothing: every device" not in words


def test_a_machine_is_not_called_done_while_a_line_of_the_test_mode_is_untested_or_faulty() -> None:
    cells = [cell.key for matrix in LAYOUT.matrices for cell in matrix.fitted]
    tested = [Read(reading=Reading(matrix=key.matrix, cell=key, mark=Mark.WORKING)) for key in cells]
    opened = JobOpened(name="x", layout=LAYOUT)
    items = [one.item for one in checklist(sheet_of(opened).state)]
    lines = function_lists(sheet_of(opened).state)
    good = [FunctionChecked(section=one.section, item=one.item, verdict="good") for one in lines]
    faulty = FunctionChecked(section=lines[0].section, item=lines[0].item, verdict="faulty", note="half of it dark")
    done, known = "Nothing: every device is tested, and no fault is open.", "Every device is tested, and no fault is"
    for events, whole in ((good, True), (good[1:], False), ((*good, faulty), False)):
        sheet = sheet_of(opened, *passed(*items), *tested, *events)
        assert (done in owner_words(sheet)) is whole
        assert (known in " ".join(_Page(as_card(sheet)).words.split())) is whole
        assert ("half of it dark" in owner_words(sheet)) is (faulty in events)


@PAPER
def test_the_owners_page_names_what_was_left_out_for_want_of_room(paper: Paper) -> None:
    repairs = [Repaired(place="Q1", note=f"the {count} long story of this repair " * 9) for count in range(40)]
    notes = [SafetyChecked(item=f"own check {count}", passed=False, note="not right " * 30) for count in range(40)]
    report = report_of(sheet_of(*EVENTS, *repairs, *notes), paper)
    lists = [block for section in report.owner for block in section.blocks if isinstance(block, Points)]
    assert any("more, on the technician's pages." in item for block in lists for item in block.items)
    counts = [int(item.split()[1]) + len(block.items) - 1 for block in lists for item in block.items if "And " in item]
    assert 40 in counts or 41 in counts
    assert len(table_of(report, "Repairs").rows) == 41


def test_a_part_with_a_name_is_called_by_it_on_the_owners_page() -> None:
    done = Repaired(place="X5", note="pushed home")
    words = owner_words(sheet_of(JobOpened(name="x", layout=TRAM), done, Repaired(place="F7"), Repaired(place="Q3")))
    assert "The plug “9-way plug, upper playfield”: pushed home." in words
    assert "F7" not in words
    assert "The transistor Q3: repaired." in words


def test_markdown_has_tables_of_one_width() -> None:
    text = markdown(report_of(sheet_of_the_evening(), ENDLESS))
    tokens = MarkdownIt("commonmark").enable("table").parse(text)
    widths, row = [], 0
    for token in tokens:
        if token.type in ("th_open", "td_open"):
            row += 1
        if token.type == "tr_close":
            widths[-1].add(row)
            row = 0
        if token.type == "table_open":
            widths.append(set())
    assert widths
    assert all(len(found) == 1 for found in widths)


def test_the_card_says_what_is_odd_and_what_is_open() -> None:
    words = " ".join(_Page(as_card(empty())).words.split())
    assert "LEDs on keep-warm resistors glow by themselves: flash lamps 18, 19 and 26." in words
    assert "Closed at rest while all is well: switches 11, 12, 13, 14, 15 and 47." in words
    assert "As left on 2031-03-01" in words
    assert "Safety check not made: mains lead" in words
    assert "169 of 169 devices are untested." in words
    assert "F2 6.3 A T" in words
    assert "owner" not in words.lower()
    assert ">dead</text>" not in as_card(sheet_of_the_evening())


def test_marks_are_words_in_the_grid() -> None:
    html = as_page(sheet_of_the_evening())
    marks = [str(standing.mark) for standing in sheet_of_the_evening().state.standings.values()]
    for mark in map(str, Mark):
        assert html.count(f">{mark}</text>") == marks.count(mark)


def test_the_later_list_counts_every_waiting_cell_and_names_a_whole_matrix_at_once() -> None:
    table = table_of(report_of(empty(), PAPERS["a4"]), "For later")
    assert sum(int(row[1]) for row in table.rows) == sum(count.total for count in coverage_of(empty().state).values())
    assert any("all 30 of the coil bank" in row[2] for row in table.rows)
    partly = sheet_of(
        JobOpened(name="x", layout=TRAM), Read(reading=Reading(matrix="coils", cell=GLOWING[0], mark=Mark.DEAD))
    )
    rows = table_of(report_of(partly, PAPERS["a4"]), "For later").rows
    assert not any("of the coil bank" in row[2] for row in rows)


def test_the_card_says_a_failed_check_and_a_coil_that_is_on_loudly() -> None:
    on = Read(reading=Reading(matrix="coils", answered=(TRAM.matrix("coils").by_number[2].key,)))
    failed = SafetyChecked(item="earth bond", passed=False)
    html = as_card(sheet_of(JobOpened(name="x", layout=TRAM), failed, on))
    loud = html.partition('<ul class="loud">')[2].partition("</ul>")[0]
    assert "Switch off now." in loud
    assert "FAILED safety check: earth bond." in loud
    assert 'class="loud"' not in as_card(empty())


def test_the_card_keeps_the_newest_notes_short() -> None:
    notes = [Noted(text=f"note {count} {'and so on ' * 40}") for count in range(5)]
    words = " ".join(_Page(as_card(sheet_of(JobOpened(name="x", layout=TRAM), *notes))).words.split())
    assert [count for count in range(5) if f"note {count} and" in words] == [2, 3, 4]
    assert words.count("and so on") < 3 * 20
