"""A report, or the card for the cabinet, as one self-contained HTML page that prints from any browser."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from itertools import product
from typing import NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined

from matrixcheck.layout.problems import visible
from matrixcheck.report.document import Block, Grids, Head, MachineCard, Points, Report, Section, Sentence, Table
from matrixcheck.report.drawing.arrange import pages_of, shelves_of
from matrixcheck.report.drawing.grid_blocks import CELL_WIDTH, HEAD_WIDTH, TALL, GridBlock, Room, blocks_of
from matrixcheck.report.drawing.lettering import cut, wrapped
from matrixcheck.report.drawing.paper import MARGIN_BOTTOM, MARGIN_SIDE, MARGIN_TOP, Paper
from matrixcheck.report.drawing.svg import STYLE, svg

LINE, HEADING, ROW, QUIET = 48, 125, 58, 0.85
"""What a line of text, a heading and a row of a table take of a page, in tenths of a millimetre, reckoned amply; and
how much less what is quiet takes."""
TEXT = 35
"""Size of the pages' letters, 10 points."""
INDENT = 60
"""White before a point."""
CARD_LINE, CARD_HEADING, CARD_TEXT, CARD_GAP, CARD_HEAD, CARD_FRAME = 37, 67, 29, 60, 0.78, 80
MARGINAL = "font: 8.5pt Arial, sans-serif; white-space: nowrap;"
NO_BREAK, MAY_BREAK = "\N{NO-BREAK SPACE}", "\N{ZERO WIDTH SPACE}"
ENDLESS = re.compile(r"\S{24}(?=\S)")
TIED = re.compile("(?<=[0-9]) (?=[%Ω(])")
FEW_ROWS, LONG_VALUE = 8, 400
"""Rows of a short table; characters of a value that makes its row high."""
SMALLEST = 0.6
"""By how much the grids of a card may shrink: names are then 4 points high."""


class DrawnShelf(NamedTuple):
    """The SVG of a shelf, and whether it begins a new page in print."""

    svg: str
    new_page: bool


def page(report: Report, paper: Paper) -> str:
    """Return a report as HTML for that paper. What was typed comes out as text, never as markup."""
    before = _before_grids(report.technician, paper)
    shelves = _shelves(report.technician, paper, max(paper.height - before, 0))
    return _rendered("report.html.j2", report.head, paper, report=report, shelves=shelves)


def card_page(card: MachineCard, paper: Paper) -> str:
    """Return the card as HTML of one printed page. Raises ValueError where its grids don't fit."""
    room = paper.height - _card_text(card, paper)
    for percent, tall in product(range(100, round(SMALLEST * 100) - 1, -2), (TALL, TALL // 2)):
        width, height = round(paper.width * 100 / percent), round(room * 100 / percent)
        shelves = shelves_of(
            _groups(card.grids, Room(width, height, tall, HEAD_WIDTH * 100 // percent, CELL_WIDTH * 100 // percent)),
            width,
        )
        if sum(shelf.height + CARD_LINE for shelf in shelves) <= height:
            drawn = tuple(DrawnShelf(svg(shelf, width, paper.width), False) for shelf in shelves)
            return _rendered("card.html.j2", card.head, paper, card=card, shelves=drawn)
    raise ValueError("the grids of this machine do not fit on one page")


def _groups(grids: Grids, room: Room) -> Iterable[tuple[GridBlock, ...]]:
    for grid in grids.grids:
        yield from blocks_of(grid.matrix, grid.text_of, grid.caption, room)


def _shelves(sections: Iterable[Section], paper: Paper, first: float) -> tuple[DrawnShelf, ...]:
    found = []
    for section in sections:
        for block in section.blocks:
            if isinstance(block, Grids):
                shelves = shelves_of(_groups(block, Room(paper.width, paper.height)), paper.width)
                for count, on_page in enumerate(pages_of(shelves, paper.height, first)):
                    found += [
                        DrawnShelf(svg(shelf, paper.width, paper.width), count > 0 and shelf is on_page[0])
                        for shelf in on_page
                    ]
    return tuple(found)


def _before_grids(sections: Iterable[Section], paper: Paper) -> float:
    """Return how much of the technician's first page is taken before the grids begin."""
    used = float(HEADING)
    for section in sections:
        used += HEADING
        for block in section.blocks:
            if isinstance(block, Grids):
                return used
            used += _height(block, paper.width, LINE, TEXT) + LINE / 6
    return used


def _card_text(card: MachineCard, paper: Paper) -> float:
    """Return what the head and the notes take; the notes stand in two columns of the same height."""
    column = (paper.width - CARD_GAP) // 2
    notes = [
        CARD_HEADING + sum(_height(block, column, CARD_LINE, CARD_TEXT) + _frame(block) for block in section.blocks)
        for section in card.sections
    ]
    return card.head.height(paper.width) * CARD_HEAD + sum(notes) / 2 + CARD_LINE


def _frame(block: Block) -> int:
    return CARD_FRAME if isinstance(block, Points) and block.loud else 0


def _height(block: Block, width: int, line: float, size: float) -> float:
    """Return what a block of text or a table takes of the height."""
    if isinstance(block, Table):
        return ROW * (len(block.rows) + 1.5)
    if isinstance(block, Sentence) and block.tone == "quiet":
        line, size = line * QUIET, size * QUIET
    texts = block.items if isinstance(block, Points) else (block.text,) if isinstance(block, Sentence) else ()
    return sum(len(wrapped(text, width - INDENT, size, 99)) * line for text in texts)


def _rendered(template: str, head: Head, paper: Paper, **values: object) -> str:
    return (
        _environment()
        .get_template(template)
        .render(title=f"{head.name} · {head.machine}", style=_style(head, paper), **values)
    )


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=PackageLoader("matrixcheck.report"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.tests |= {"short": _is_short, "long": _is_long}
    environment.filters["kind"] = lambda block: type(block).__name__
    return environment


def _is_short(table: Table) -> bool:
    """Return whether a table is better kept on one page."""
    return len(table.rows) <= FEW_ROWS and not any(map(_is_long, table.rows))


def _is_long(row: tuple[str, ...]) -> bool:
    """Return whether a row is so high that it may go on on the next page."""
    return max(map(len, row)) > LONG_VALUE


def _shown(value: object) -> object:
    """Return what a template shows: of a text nothing that steers, no sign parted from its number, no endless word."""
    return ENDLESS.sub(f"\\g<0>{MAY_BREAK}", TIED.sub(NO_BREAK, visible(value))) if type(value) is str else value


def _style(head: Head, paper: Paper) -> str:
    """Return the style: what is the same in all reports, and the sheet with its head and foot."""
    common = (files("matrixcheck.report") / "templates" / "report.css").read_text(encoding="utf-8")
    left = cut(f"{head.machine} · {head.name}", paper.width * 0.6, 30)
    right = cut(" · ".join(filter(None, (head.visit, head.serial))), paper.width * 0.35, 30)
    margins = " ".join(f"{side / 10:g}mm" for side in (MARGIN_TOP, MARGIN_SIDE, MARGIN_BOTTOM))
    boxes = {
        "top-left": f'"{_quoted(left)}"',
        "top-right": f'"{_quoted(right)}"',
        "bottom-right": '"page " counter(page) " of " counter(pages)',
    }
    marginal = (f"@{box} {{ content: {content}; {MARGINAL} }}" for box, content in boxes.items())
    return "\n".join(
        [
            f"@page {{ size: {paper.name}; margin: {margins};",
            *marginal,
            "}",
            f"body {{ max-width: {paper.width / 10 + 8:g}mm; }}",
            common + STYLE,
        ]
    )


def _quoted(text: str) -> str:
    """Return a text for a string in CSS: whatever could end the string or the style is written as its code point."""
    return "".join(sign if sign.isalnum() or sign == " " else f"\\{ord(sign):06x} " for sign in visible(text))
