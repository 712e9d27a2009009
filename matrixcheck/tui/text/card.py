"""The cell under the cursor in words: how it stands, how to get at it, and the path of its two lines."""

from __future__ import annotations

from matrixcheck.layout.model import Cell, Layout, Line
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import short_words
from matrixcheck.record.cell_state import Standing
from matrixcheck.report.cell_facts import ARROW, electric_words, path_words, standing_words, where_words
from matrixcheck.report.glyphs import GLYPHS
from matrixcheck.tui.text.spans import Row, Span, clipped, row, wrapped


def card(cell: Cell, standing: Standing | None, layout: Layout, width: int) -> tuple[Row, ...]:
    """Return the full card, for a pane beside the grid."""
    title = wrapped(short_words(cell), width, "title")
    facts = [line for text in (where_words(cell), electric_words(cell)) for line in wrapped(text, width, "quiet")]
    lines: list[Row] = [*title, _state(standing), *_extras(standing, layout, width), *facts]
    for key in (cell.column_line, cell.row_line):
        line = layout.matrix(cell.key.matrix).lines.get(key)
        if line:
            lines += [*_path(key, line, width)]
    return tuple(lines)


def card_in_brief(cell: Cell, standing: Standing | None, layout: Layout, width: int) -> tuple[Row, ...]:
    """Return the card in three lines, for a screen with the grid above it."""
    matrix = layout.matrix(cell.key.matrix)
    paths = [
        f"{key.address} {_wire(line)}{ARROW.strip().join(line.path)}".rstrip()
        for key in (cell.column_line, cell.row_line)
        if (line := matrix.lines.get(key))
    ]
    extras = _extras(standing, layout, width)
    second: Row = extras[0] if extras else row(clipped(where_words(cell), width), "quiet")
    name = clipped(short_words(cell), width - 14)
    return (
        ((name, "title"), ("  ", "plain"), *_state(standing, short=True)),
        second,
        row(clipped("  ".join(paths), width), "quiet"),
    )


def _state(standing: Standing | None, short: bool = False) -> Row:
    mark = standing.mark if standing else Mark.UNTESTED
    spans: list[Span] = [(f" {GLYPHS[mark]} {mark} ", mark.value)]
    if standing and standing.intermittent:
        spans.append(("  comes and goes", "alert"))
    elif standing and standing.count > 1 and not short:
        spans.append((f"  tested {'twice' if standing.count == 2 else f'{standing.count} times'}", "quiet"))
    return tuple(spans)


def _extras(standing: Standing | None, layout: Layout, width: int) -> list[Row]:
    found = standing_words(standing, layout) if standing else ()
    return [line for text in found for line in wrapped(text, width, "strong", indent="  ", first="")]


def _path(key: LineKey, line: Line, width: int) -> list[Row]:
    head = f"{key.side} {line.label}"
    spans: list[Span] = [(head, "strong")]
    about = "  ".join(filter(None, [line.wire or "", line.name]))
    if about:
        spans.append((f"  {clipped(about, width - len(head) - 2)}", "quiet"))
    rest = path_words(line)
    return [tuple(spans), *(piece for text in rest for piece in wrapped(text, width, "quiet", indent="  "))]


def _wire(line: Line) -> str:
    return f"{line.wire} " if line.wire else ""
