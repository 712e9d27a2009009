"""A report in Markdown (CommonMark, with the tables that most readers know): to mail, to keep, to compare."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from matrixcheck.layout.problems import visible
from matrixcheck.report.document import (
    Block,
    CardBlock,
    Grid,
    Grids,
    Pictures,
    Points,
    Report,
    Section,
    Sentence,
    Table,
)
from matrixcheck.report.drawing.cell_texts import CellText
from matrixcheck.report.drawing.line_heads import line_head

SIGNS = re.compile(r"([\\`*_\[\]<>|~&])")
"""What Markdown or HTML may take for markup anywhere: it stands escaped."""
FIRST = re.compile(r"([-+#=])|([0-9]{1,9})(?=[.)])")
"""What it may take for a list or a heading where a text begins."""


def markdown(report: Report) -> str:
    """Return the whole report. What was typed stays text: no markup, no link, no HTML."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: Report) -> Iterator[str]:
    if report.danger:
        yield from (f"**{_text(report.danger)}**", "")
    yield f"# {_text(report.head.name)}"
    yield ""
    yield from (f"- {name}: {_text(value)}" for name, value in report.head.facts)
    for title, sections in (("", report.owner), ("For the technician", report.technician)):
        if title:
            yield from ("", f"# {title}")
        for section in sections:
            yield from _section(section)


def _section(section: Section) -> Iterator[str]:
    yield from ("", f"## {_text(section.title)}")
    for block in section.blocks:
        yield ""
        yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    match block:
        case Sentence(text=text, tone=tone):
            yield f"**{_text(text)}**" if tone == "loud" else _text(text)
        case Points(items=items, loud=loud, lead=lead):
            yield from (_text(lead), "") if lead else ()
            yield from (f"- **{_text(item)}**" if loud else f"- {_text(item)}" for item in items)
        case Table():
            yield from _table(block.heads, block.rows, block.figures)
        case CardBlock(title=title, sure=sure, facts=facts):
            yield from (f"### {_text(title)}", "", f"- {_text(sure)}")
            yield from (f"- {name}: {_text(value)}" for name, value in facts)
        case Pictures(pictures=pictures):
            yield from (f"- {_text(one.caption)}, {one.name[:12]}" for one in pictures)
        case Grids(grids=grids):
            for place, grid in enumerate(grids):
                yield from _grid(grid, first=place == 0)


def _grid(grid: Grid, *, first: bool) -> Iterator[str]:
    matrix = grid.matrix
    if not first:
        yield ""
    yield from (f"### {_text(grid.caption.title)}", "")
    if grid.caption.says:
        yield from (_text(grid.caption.says), "")
    columns, rows = map(line_head, matrix.columns), map(line_head, matrix.rows)
    fitted = {(cell.key.row, cell.key.column): grid.text_of(cell) for cell in matrix.fitted}
    heads = ("", *(" ".join((head.label, *head.facts)) for head in columns))
    body = (
        (
            " ".join((head.label, *head.facts)),
            *(_cell(fitted.get((row, column))) for column in range(1, len(matrix.columns) + 1)),
        )
        for row, head in enumerate(rows, 1)
    )
    yield from _table(heads, body, frozenset())


def _cell(text: CellText | None) -> str:
    if text is None:
        return ""
    return ", ".join(filter(None, (f"{text.number} {text.name}", text.word, *text.remarks)))


def _table(heads: Iterable[str], rows: Iterable[Iterable[str]], figures: frozenset[int]) -> Iterator[str]:
    shown = list(map(_text, heads))
    yield _row(shown)
    yield _row("---:" if place in figures else "---" for place in range(len(shown)))
    yield from (_row(map(_text, row)) for row in rows)


def _row(values: Iterable[str]) -> str:
    return f"| {' | '.join(values)} |"


def _text(text: str) -> str:
    shown = SIGNS.sub(r"\\\1", " ".join(visible(text).split()))
    first = FIRST.match(shown)
    if first is None:
        return shown
    at = first.end() if first[2] else 0
    return f"{shown[:at]}\\{shown[at:]}"
