"""The report as plain text of 80 columns, for a printer, a mail or a pipe."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table as RichTable
from rich.text import Text

from matrixcheck.layout.problems import visible
from matrixcheck.record.cell_state import Standings
from matrixcheck.report import tables
from matrixcheck.report.document import Block, CardBlock, Grid, Grids, Pictures, Points, Section, Sentence, Table
from matrixcheck.report.drawing.paper import ENDLESS
from matrixcheck.report.grids import grid_lines
from matrixcheck.report.reporting import report_of
from matrixcheck.report.sheet import Sheet

WIDTH = 80


def plain(sheet: Sheet, width: int = WIDTH) -> str:
    """Return the report in lines of at most `width` signs, without colour or control codes."""
    text = io.StringIO()
    console = Console(file=text, width=width, color_system=None, force_terminal=False, highlight=False, markup=False)
    report, standings = report_of(sheet, ENDLESS), sheet.state.standings
    if report.danger:
        console.print(_text(report.danger), "")
    console.print(_text(report.head.name))
    for name, value in report.head.facts:
        console.print(_text(f"{name:<15} {value}"))
    for section in (*report.owner, *report.technician):
        _print(console, section, standings)
    console.print("\nTested by ____________________   Date ____________   Signature ________________")
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines()) + "\n"


def _print(console: Console, section: Section, standings: Standings) -> None:
    console.print(f"\n{section.title.upper()}\n{'-' * len(section.title)}")
    for block in section.blocks:
        console.print(_shown(block, standings, console.width))


def _shown(block: Block, standings: Standings, width: int) -> RenderableType:
    match block:
        case Sentence(text=text):
            return _text(text)
        case Points(items=items, lead=lead):
            points = _hanging(("-", item) for item in items)
            return Group(_text(lead), points) if lead else points
        case Pictures(pictures=pictures):
            return _hanging(("-", f"{one.caption}, {one.name[:12]}") for one in pictures)
        case Table():
            return _table(block)
        case CardBlock(title=title, sure=sure, facts=facts):
            return Group(_text(f"{title}: {sure}"), Padding(_hanging(facts), (0, 0, 1, 3)))
        case Grids(grids=grids):
            lines = [line for grid in grids for line in _grid(grid, standings, width)]
            return Group(Text("\n".join(lines), no_wrap=True, overflow="ignore"), tables.legend())


def _grid(grid: Grid, standings: Standings, width: int) -> Iterator[str]:
    yield visible(f"{grid.caption.title}: {grid.caption.says}")
    for spans in grid_lines(grid.matrix, standings, width):
        yield visible("".join(span.text for span in spans))
    yield ""


def _hanging(entries: Iterable[tuple[str, str]]) -> RichTable:
    table = RichTable(box=None, show_header=False, padding=(0, 1, 0, 0), pad_edge=False)
    table.add_column(no_wrap=True)
    table.add_column(ratio=1)
    for head, says in entries:
        table.add_row(_text(head), _text(says))
    return table


def _table(block: Table) -> RichTable:
    table = RichTable(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for place, head in enumerate(block.heads):
        table.add_column(head, justify="right" if place in block.figures else "left", overflow="fold")
    for row in block.rows:
        table.add_row(*map(_text, row))
    return table


def _text(text: str) -> Text:
    return Text(visible(text))
