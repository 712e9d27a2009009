"""Draw the README's pictures from the program itself: `python demo/pictures.py [--out DIR]`.

The screens of the invented machine are reached by real keys and drawn as SVG; the page for a phone is photographed in a
browser. Pages of its report and its card are printed by an installed browser. These are kept as PNG of few colours.
Everything on them is invented. With `--only icons` it draws the icons of the phone's page instead, from their one
SVG, into the page's files.
"""

from __future__ import annotations

import argparse
import asyncio
import io
import tempfile
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from html import escape
from pathlib import Path
from typing import NamedTuple

from phone import photographs
from pypdfium2 import PdfDocument, PdfPage
from rich.segment import Segment
from rich.style import Style
from textual.pilot import Pilot
from textual.strip import Strip

from matrixcheck.bench import Bench
from matrixcheck.cli.evening import played, the_evening
from matrixcheck.cli.outputs import Output, hand_over
from matrixcheck.cli.printing import printed, the_browser
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.report.drawing.paper import PAPERS
from matrixcheck.report.page import card_page, page
from matrixcheck.report.reporting import card_of, report_of
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.screens.job import JobScreen

EVENING = datetime(2026, 3, 14, 19, 30, tzinfo=UTC)
ACROSS, DOWN, BASELINE = 9.6, 20, 15
INCH, COLOURS = 92, 48
"""Dots to an inch of a page, and how many colours it keeps: enough to read it, and small."""
PAGE_FILES = Path(__file__).parents[1] / "matrixcheck" / "web" / "page" / "files"
ICON = PAGE_FILES.parents[1] / "files" / "icon.svg"
ICONS = {"icon-180": (180, 1.0), "icon-192": (192, 1.0), "icon-512": (512, 1.0), "icon-maskable": (512, 0.8)}
"""Dots of a side, and how much of it the drawing takes: a phone cuts the outer part of a maskable one away."""
ICON_GROUND = "#111111"
NO_COLOURS = ("#000000", "#ffffff")
DESK, PANE, PHONE = (100, 32), (60, 28), (39, 35)


class Picture(NamedTuple):
    """A screen: its size in characters, the matrix opened, the keys pressed, and what it shows, for those who can't
    see it."""

    size: tuple[int, int]
    matrix: str
    keys: str
    shows: str


PICTURES = {
    "suspects": Picture(
        DESK,
        "switches",
        "s",
        "The job screen: the grid of the switches, and beside it the suspects; the cells that the chosen one explains "
        "are lit",
    ),
    "roll": Picture(
        PANE, "switches", "g 1 4 5 enter 4 6 plus 3 6", "Rolling: the last number called back large, another half typed"
    ),
    "walk": Picture(
        PANE, "lamps", "g 1" + " enter" * 7 + " minus enter", "Walking through the lamps: one key judges each"
    ),
    "phone": Picture(PHONE, "switches", "g 1 2 7 enter", "A roll on a phone, with its own keypad"),
}


def half_done(book: Path) -> tuple[Bench, str]:
    """A job half way through its evening: a driver is open, a switch sticks, two others answer together."""
    bench = Bench(book, clock=lambda: EVENING)
    job = bench.new_job(read_layout(find_layout("saltmarsh-tram")), "Pier arcade, machine 4", "1187", "F. Quay")
    bench.mark(job, "switches", "11 12 13 14 15 16 21 22 23 24 25 26 31- 32- 33- 34- 35- 36- 41 42 43 44+45 51 52* 61.")
    return bench, job


async def drawn(picture: Picture, book: Path) -> str:
    """One picture, as SVG."""
    bench, job = half_done(book)
    app = MatrixCheckApp(bench, job, picture.matrix)
    async with app.run_test(size=picture.size) as pilot:
        await settled(pilot)
        await pilot.press(*picture.keys.split())
        await settled(pilot)
        return svg(app.screen._compositor.render_strips(), picture.size, picture.shows)


def pages(folder: Path) -> dict[str, bytes]:
    """Pages of the report of the whole evening, and the card, as PNG."""
    *_, last = played(the_evening(), folder / "evening.book")
    assert last.sheet is not None
    paper = PAPERS["a4"]
    browser = the_browser(None)
    report = PdfDocument(printed(page(report_of(last.sheet, paper), paper), browser))
    card = PdfDocument(printed(card_page(card_of(last.sheet), paper), browser))
    return {"owner": png(report[0]), "technician": png(report[1]), "card": png(card[0])}


def png(sheet: PdfPage) -> bytes:
    """A printed page as PNG of few colours."""
    kept = io.BytesIO()
    picture = sheet.render(scale=INCH / 72).to_pil().convert("RGB")
    picture.quantize(COLOURS).save(kept, "PNG", optimize=True)
    return kept.getvalue()


def icons() -> dict[str, bytes]:
    """The icons of the page, as PNG."""
    drawing = ICON.read_text(encoding="utf-8")
    found = {}
    for name, (side, part) in ICONS.items():
        margin = f"{(1 - part) / 2:.0%}"
        style = (
            f"@page {{ size: {side}px {side}px; margin: 0 }} html {{ background: {ICON_GROUND} }} body {{ margin: 0 }}"
        )
        style += f" svg {{ position: fixed; inset: {margin}; width: {part:.0%}; height: {part:.0%} }}"
        html = f"<!doctype html><title>icon</title><style>{style} * {{ print-color-adjust: exact }}</style>{drawing}"
        sheet = PdfDocument(printed(html, the_browser(None)))[0]
        kept = io.BytesIO()
        picture = sheet.render(scale=side / sheet.get_width()).to_pil().convert("RGB")
        picture.resize((side, side)).quantize(COLOURS).save(kept, "PNG", optimize=True)
        found[name] = kept.getvalue()
    return found


async def settled(pilot: Pilot[None]) -> None:
    """Wait until the screen stands still, its analysis included."""
    await pilot.pause()
    while isinstance(screen := pilot.app.screen, JobScreen) and not screen.analysed:
        await pilot.pause()
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


def svg(strips: Iterable[Strip], size: tuple[int, int], shows: str) -> str:
    """Lines of the terminal as SVG: no window round them, no font but the reader's own."""
    width, height = size[0] * ACROSS, size[1] * DOWN
    lines = [list(strip) for strip in strips]
    ground = _colours(lines[0][-1].style)[1]
    pieces = [piece for y, line in enumerate(lines) for piece in _pieces(line, y * DOWN, ground)]
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img">',
            f"<title>{escape(shows)}</title>",
            "<style>text { font: 16px monospace; white-space: pre } .b { font-weight: bold }",
            "rect { shape-rendering: crispEdges }</style>",
            f'<rect width="100%" height="100%" fill="{ground}"/>',
            *pieces,
            "</svg>\n",
        ]
    )


def _pieces(line: Sequence[Segment], top: int, ground: str) -> Iterable[str]:
    left = 0.0
    for text, style, _ in line:
        ink, paper = _colours(style)
        width = len(text) * ACROSS
        if paper != ground:
            yield f'<rect x="{left:g}" y="{top}" width="{width:g}" height="{DOWN}" fill="{paper}"/>'
        said = text.strip()
        if said:
            x, length = left + (len(text) - len(text.lstrip())) * ACROSS, len(said) * ACROSS
            bold = ' class="b"' if style and style.bold else ""
            yield (
                f'<text x="{x:g}" y="{top + BASELINE}" textLength="{length:g}" fill="{ink}"{bold}>{escape(said)}</text>'
            )
            if style and style.underline:
                yield f'<path d="M{x:g} {top + DOWN - 2}h{length:g}" stroke="{ink}"/>'
        left += width


def _colours(style: Style | None) -> tuple[str, str]:
    """Ink and paper as #rrggbb."""
    found = (style.color, style.bgcolor) if style else (None, None)
    ink, paper = (
        colour.get_truecolor().hex if colour else otherwise for colour, otherwise in zip(found, NO_COLOURS, strict=True)
    )
    return (paper, ink) if style and style.reverse else (ink, paper)


def main() -> None:
    """Draw them all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=Path(__file__).parent, help="where the pictures go")
    parser.add_argument("--only", choices=("screens", "pages", "phone", "icons"), help="draw these alone")
    given = parser.parse_args()
    if given.only == "icons":
        hand_over([Output(PAGE_FILES / f"{name}.png", drawing) for name, drawing in icons().items()])
        return
    out: Path = given.out
    out.mkdir(parents=True, exist_ok=True)
    drawings: list[Output] = []
    for name, picture in PICTURES.items() if given.only in (None, "screens") else ():
        with tempfile.TemporaryDirectory() as folder:
            drawings.append(Output(out / f"{name}.svg", asyncio.run(drawn(picture, Path(folder) / "bench.book"))))
    if given.only in (None, "phone"):
        with tempfile.TemporaryDirectory() as folder:
            book = Path(folder) / "bench.book"
            _, job = half_done(book)
            drawings += [Output(out / f"{name}.png", drawing) for name, drawing in photographs(book, job).items()]
    if given.only in (None, "pages"):
        with tempfile.TemporaryDirectory() as folder:
            drawings += [Output(out / f"{name}.png", drawing) for name, drawing in pages(Path(folder)).items()]
    hand_over(drawings)
    print(*(drawing.path for drawing in drawings), sep="\n")


if __name__ == "__main__":
    main()
