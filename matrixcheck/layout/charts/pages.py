"""Charts for paper and the wall: as text, as a page for A4, as a drawing; blank to tick on too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined
from msgspec.structs import replace

from matrixcheck.layout.charts.grid_text import drawn
from matrixcheck.layout.charts.printed import Printed, printed
from matrixcheck.layout.model import Layout, Matrix

LEGEND = (
    "On each line: a tick where it works, - dead, * stuck, . later, +31 where 31 answered too, /31 where 31 answered "
    "instead. Leave it empty where nothing was tried. Type it in with: matrixcheck mark JOB MATRIX 24 25- 26* 27+31"
)
_EMPTY, _HEAD, _FITTED = "#ddd", "#eee", "#fff"
_BOX_WIDTH, _LINE, _LETTERS, _MARGIN = 112, 13, 19, 16


class _Line(NamedTuple):
    words: str
    strong: bool = False


class _Box(NamedTuple):
    """A field of the drawing, in its units; `lines` are written from the top."""

    x: int
    y: int
    width: int
    height: int
    fill: str
    lines: tuple[_Line, ...]


class _Title(NamedTuple):
    x: int
    y: int
    size: int
    words: str


def title_of(matrix: Matrix) -> str:
    """Return what stands over the chart of a matrix."""
    name = f"{matrix.id}: {matrix.name}" if matrix.name else matrix.id
    more = [f"numbers {matrix.numbering}"]
    more += [f"{matrix.volts:g} V"] if matrix.volts is not None else []
    more += [", ".join(matrix.supply)] if matrix.supply else []
    return f"{name} ({', '.join(more)})"


def text_of(layout: Layout, ticks: bool, width: int) -> str:
    """Return the charts as plain text, at most `width` columns wide where the columns of a chart leave that."""
    return "\n".join(line.rstrip() for line in _text_lines(layout, ticks, width)) + "\n"


def _text_lines(layout: Layout, ticks: bool, width: int) -> Iterator[str]:
    yield layout.name
    if ticks:
        yield ""
        yield from wrap(LEGEND, width)
    for matrix in layout.matrices:
        yield ""
        yield title_of(matrix)
        yield ""
        yield from drawn(_table(printed(matrix), ticks), 1, width)


def _table(chart: Printed, ticks: bool) -> list[list[str]]:
    """Return the chart with what heads a row in one entry, a fact a line."""
    rows = [[heads.word, *heads.entries] for heads in chart.top]
    rows.append(["-" * 6] * (len(rows[0])))
    for place, crossings in enumerate(chart.crossings):
        facts = [heads.entries[place] for heads in chart.left if heads.entries[place]]
        entries = [f"{crossing}\n________" if ticks and crossing.name else str(crossing) for crossing in crossings]
        rows.append(["\n".join([f"Row {facts[0]}", *facts[1:]]), *entries])
        rows.append([""] * len(rows[0]))
    return rows[:-1]


def page_of(layout: Layout, ticks: bool) -> str:
    """Return the charts as one self-contained HTML page."""
    charts = [(matrix, printed(matrix)) for matrix in layout.matrices]
    template = _templates().get_template("chart.html.j2")
    return template.render(layout=layout, charts=charts, ticks=ticks, title=title_of, legend=LEGEND)


def drawing_of(layout: Layout, ticks: bool) -> str:
    """Return the charts below one another as an SVG drawing."""
    y = _MARGIN + 18
    titles = [_Title(_MARGIN, y, 18, layout.name)]
    boxes: list[_Box] = []
    if ticks:
        for line in wrap(LEGEND, 110):
            y += _LINE + 2
            titles.append(_Title(_MARGIN, y, 11, line))
    for matrix in layout.matrices:
        y += 32
        titles.append(_Title(_MARGIN, y, 14, title_of(matrix)))
        y += 8
        for entries, fills in _drawn_rows(printed(matrix), ticks):
            lines = [_folded(entry) for entry in entries]
            height = max(map(len, lines)) * _LINE + 6
            boxes += [
                _Box(_MARGIN + column * _BOX_WIDTH, y, _BOX_WIDTH, height, fill, tuple(folded))
                for column, (folded, fill) in enumerate(zip(lines, fills, strict=True))
            ]
            y += height
    width = max([box.x + box.width for box in boxes] + [_MARGIN + 7 * len(title.words) for title in titles]) + _MARGIN
    template = _templates().get_template("chart.svg.j2")
    return template.render(name=layout.name, width=width, height=y + _MARGIN, titles=titles, boxes=boxes)


def _drawn_rows(chart: Printed, ticks: bool) -> Iterator[tuple[list[str], list[str]]]:
    """Yield the entries of each row of the drawing, and how each is filled."""
    for heads in chart.top:
        yield [heads.word, *heads.entries], [_HEAD] * (len(heads.entries) + 1)
    for place, crossings in enumerate(chart.crossings):
        facts = [heads.entries[place] for heads in chart.left if heads.entries[place]]
        entries = [f"{crossing.number}\n{crossing.name}".strip() for crossing in crossings]
        if ticks:
            entries = [f"{entry}\n\N{NO-BREAK SPACE}" for entry in entries]
        yield (
            ["\n".join([f"Row {facts[0]}", *facts[1:]]), *entries],
            [_HEAD, *(_FITTED if crossing.name else _EMPTY for crossing in crossings)],
        )


def _folded(entry: str) -> list[_Line]:
    first, *others = entry.split("\n")
    folded = [part for line in others for part in (wrap(line, _LETTERS) or [""])]
    return [_Line(part, bool(others)) for part in (wrap(first, _LETTERS) or [""])] + [_Line(part) for part in folded]


def _templates() -> Environment:
    return Environment(
        loader=PackageLoader("matrixcheck.layout.charts"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def of_matrices(layout: Layout, ids: Sequence[str]) -> Layout:
    """Return the layout with these matrices only; all where none is named. Raises UsageError for an unknown one."""
    return replace(layout, matrices=tuple(layout.matrix(one) for one in ids)) if ids else layout
