"""The cell under the cursor in words: how it stands, how to get at it, and the path of its two lines."""

from __future__ import annotations

from matrixcheck.layout.model import Cell, Layout, Line
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import cell_words, place_words, short_words
from matrixcheck.record.cell_state import Standing
from matrixcheck.report.glyphs import GLYPHS
from matrixcheck.tui.text.spans import Row, Span, clipped, row, wrapped

ARROW = " → "


def card(cell: Cell, standing: Standing | None, layout: Layout, width: int) -> tuple[Row, ...]:
    """Return the full card, for a pane beside the grid."""
    title = wrapped(short_words(cell), width, "title")
    facts = [line for text in (_where(cell), _electric(cell)) for line in wrapped(text, width, "quiet")]
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
    second: Row = extras[0] if extras else row(clipped(_where(cell), width), "quiet")
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
    if standing is None:
        return []
    found: list[str] = []
    for words, cells in (
        ("answered too:", standing.echoed),
        ("answered instead:", standing.answered_instead),
        ("faint:", standing.faint),
    ):
        if cells:
            found.append(f"{words} {', '.join(cell_words(layout, key) for key in cells)}")
    if standing.accepted is not None:
        found.append(f"glow is normal here{': ' + standing.accepted if standing.accepted else ''}")
    if standing.ohms is not None:
        found.append(f"{standing.ohms:g} Ω measured")
    if standing.retest_due is not None:
        found.append(f"test again: {place_words(layout, standing.retest_due)} was repaired")
    if standing.deferred is not None:
        found.append(f"later: {standing.deferred}" if standing.deferred else "later")
    return [line for text in found for line in wrapped(text, width, "strong", indent="  ", first="")]


def _where(cell: Cell) -> str:
    reach = cell.notes.reach
    by = f"by {reach}" if reach in {"hand", "ball"} else reach
    closed = "closed at rest" if cell.notes.rest == "closed" else ""
    return " · ".join(filter(None, [cell.key.address, by, cell.notes.zone, closed]))


def _electric(cell: Cell) -> str:
    notes = cell.notes
    lamp = {"led": "LED fitted", "filament": "filament fitted", None: ""}[notes.fitted]
    ohms = f"{notes.ohms:g} Ω" if notes.ohms else ""
    keep_warm = f"keep-warm {notes.keep_warm.ohms:g} Ω" if notes.keep_warm else ""
    return " · ".join(filter(None, ["flash lamp" if cell.device == "flash lamp" else "", ohms, lamp, keep_warm]))


def _path(key: LineKey, line: Line, width: int) -> list[Row]:
    head = f"{key.side} {line.label}"
    spans: list[Span] = [(head, "strong")]
    about = "  ".join(filter(None, [line.wire or "", line.name]))
    if about:
        spans.append((f"  {clipped(about, width - len(head) - 2)}", "quiet"))
    path = ARROW.join(line.path)
    supply = f"fed by {', '.join(line.supply)}" if line.supply else ""
    relay = f"{line.select} {'at rest' if line.when == 'rest' else 'pulled'}" if line.select else ""
    rest = [text for text in (path, " · ".join(filter(None, [relay, supply]))) if text]
    return [tuple(spans), *(piece for text in rest for piece in wrapped(text, width, "quiet", indent="  "))]


def _wire(line: Line) -> str:
    return f"{line.wire} " if line.wire else ""
