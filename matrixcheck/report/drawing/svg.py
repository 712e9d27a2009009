"""Draw shelves of grid blocks as SVG that is legible in black and white: a word for each mark, and another frame."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from types import MappingProxyType

from matrixcheck.layout.problems import visible
from matrixcheck.layout.reading import Mark
from matrixcheck.report.drawing.arrange import Shelf
from matrixcheck.report.drawing.cell_texts import GLOWS
from matrixcheck.report.drawing.grid_blocks import (
    FACT_SIZE,
    GAP,
    LABEL_SIZE,
    LEADING,
    NAME_SIZE,
    NUMBER_SIZE,
    PAD,
    REMARK_SIZE,
    SUBTITLE_SIZE,
    TITLE_SIZE,
    WORD_SIZE,
    GridBlock,
    Written,
    column_facts,
    column_label,
    label_width,
    row_facts,
    row_label,
)
from matrixcheck.report.drawing.lettering import cut, width_of
from matrixcheck.report.drawing.line_heads import LineHead
from matrixcheck.report.glyphs import FILLS

EDGE = 4
"""White round a drawing, for the outer half of its frames."""
TIGHT = 0.72
"""The share of its room from which on a text's width is fixed: a wider font than the one reckoned with can't spill."""
SIZES: Mapping[str, int] = MappingProxyType(
    {
        "t": TITLE_SIZE,
        "u": SUBTITLE_SIZE,
        "l": LABEL_SIZE,
        "f": FACT_SIZE,
        "n": NUMBER_SIZE,
        "w": WORD_SIZE,
        "a": NAME_SIZE,
        "r": REMARK_SIZE,
    }
)
"""Size of letters by their class in the style."""
FRAMES: Mapping[str, str] = MappingProxyType({Mark.DEAD: "dead", Mark.STUCK: "stuck", Mark.UNTESTED: "open"})
STYLE = "\n".join(
    [
        "svg.grid text { font-family: 'Liberation Sans', Arial, Helvetica, sans-serif; fill: #000; white-space: pre; }",
        *(f"svg.grid .{kind} {{ font-size: {size}px; }}" for kind, size in SIZES.items()),
        "svg.grid .t, svg.grid .l, svg.grid .n { font-weight: bold; }",
        "svg.grid .r { font-style: italic; }",
        "svg.grid rect { fill: none; stroke: #000; stroke-width: 1.5; }",
        "svg.grid .head { fill: #eee; }",
        "svg.grid .dead { stroke-width: 6; }",
        "svg.grid .stuck { stroke-width: 6; stroke-dasharray: 24 10; }",
        "svg.grid .open { stroke-dasharray: 4 8; }",
        "svg.grid .none { stroke: #999; stroke-width: 1; }",
        *(f"svg.grid .is-{mark} {{ fill: {fill}; stroke: none; }}" for mark, fill in FILLS.items() if fill),
    ]
)  # fmt: skip


def svg(shelf: Shelf, width: float, printed: float) -> str:
    """Return a shelf as an SVG element, `width` of the drawing as wide as `printed` on paper.

    Whatever was typed comes out as text; nothing is fetched.
    """
    pieces: list[str] = []
    left = 0.0
    for block in shelf.blocks:
        pieces += _block(block, left, shelf.caption_height)
        left += block.width + GAP
    wide, high = width + 2 * EDGE, shelf.height + 2 * EDGE
    scale = printed / wide
    return "\n".join(
        [
            f'<svg class="grid" viewBox="-{EDGE} -{EDGE} {wide:.0f} {high:.0f}" '
            f'style="width: {printed / 10:g}mm; height: {high * scale / 10:.2f}mm">',
            *pieces,
            "</svg>",
        ]
    )


def _block(block: GridBlock, left: float, caption: float) -> Iterator[str]:
    top = float(PAD)
    for lines, size, kind in ((block.title, TITLE_SIZE, "t"), (block.says, SUBTITLE_SIZE, "u")):
        for line in lines:
            yield _text(line, kind, left, top, block.width)
            top += size * 1.15
    top = caption
    yield _rect(left, top, block.head_width, block.head_height, "head")
    for place, head in enumerate(block.columns):
        at = left + block.head_width + place * block.cell_width
        yield from _column_head(head, at, top, block.cell_width, block.head_height)
    top += block.head_height
    for row, cells, high in zip(block.rows, block.cells, block.row_heights, strict=True):
        yield from _row_head(row, left, top, block.head_width, high)
        for place, cell in enumerate(cells):
            yield from _cell(cell, left + block.head_width + place * block.cell_width, top, block.cell_width, high)
        top += high


def _column_head(head: LineHead, left: float, top: float, wide: int, high: float) -> Iterator[str]:
    room = wide - 2 * PAD
    yield _rect(left, top, wide, high, "head")
    down = top + PAD
    for line in column_label(head, wide):
        yield _text(line, "l", left + PAD, down, room)
        down += LABEL_SIZE * LEADING
    for fact in column_facts(head, wide):
        yield _text(fact, "f", left + PAD, down, room)
        down += FACT_SIZE * LEADING


def _row_head(head: LineHead, left: float, top: float, wide: int, high: float) -> Iterator[str]:
    yield _rect(left, top, wide, high, "head")
    label = label_width(head, wide)
    for place, line in enumerate(row_label(head, wide)):
        yield _text(line, "l", left + PAD, top + PAD + place * LABEL_SIZE * LEADING, label)
    for place, fact in enumerate(row_facts(head, wide)):
        down = top + PAD + place * FACT_SIZE * LEADING
        yield _text(fact, "f", left + PAD + label, down, wide - 2 * PAD - label)


def _cell(cell: Written | None, left: float, top: float, wide: int, high: float) -> Iterator[str]:
    if cell is None:
        yield _rect(left, top, wide, high, "none")
        yield f'<path d="M{left:.0f} {top + high:.0f}l{wide} {-high:.0f}" stroke="#999"/>'
        return
    text, room = cell.text, wide - 2 * PAD
    number = min(width_of(text.number, NUMBER_SIZE, bold=True) + PAD, room)
    yield _rect(left, top, wide, high, "")
    if text.word in FRAMES:
        yield _rect(left + 4, top + 4, wide - 8, high - 8, FRAMES[text.word])
    if text.word:
        yield from _word(text.word, left + PAD + number, left + wide - 7, top + 7)
    yield _text(text.number, "n", left + PAD, top + PAD, number)
    aside = number if cell.beside else 0.0
    down = top + PAD + (0.0 if cell.beside else NUMBER_SIZE * LEADING)
    for line in cell.name:
        yield _text(line, "a", left + PAD + aside, down, room - aside)
        down += NAME_SIZE * LEADING
    down = max(down, top + PAD + NUMBER_SIZE * LEADING)
    for line in cell.remarks:
        yield _text(line, "r", left + PAD, down, room)
        down += REMARK_SIZE * LEADING


def _word(word: str, least: float, right: float, top: float) -> Iterator[str]:
    """Draw the word for a mark at the right edge on its fill; with nothing but its first letter where room is short."""
    shown = word if width_of(word, WORD_SIZE) + 2 * PAD <= right - least else word[:1]
    wide = width_of(shown, WORD_SIZE) + 2 * PAD
    if FILLS.get(_mark(word)):
        yield _rect(right - wide, top, wide, WORD_SIZE * 1.3, f"is-{word}")
    yield _text(shown, "w", right - wide + PAD, top + 4, wide - PAD)


def _mark(word: str) -> Mark:
    return Mark.UNTESTED if word == GLOWS else Mark(word)


def _rect(left: float, top: float, wide: float, high: float, kind: str) -> str:
    named = f' class="{kind}"' if kind else ""
    return f'<rect x="{left:.0f}" y="{top:.0f}" width="{wide:.0f}" height="{high:.0f}"{named}/>'


def _text(text: str, kind: str, left: float, top: float, room: float) -> str:
    """Draw one line below `top`, no wider than the room; `kind` is its class in the style."""
    size, bold = SIZES[kind], kind in "tln"
    shown = cut(visible(text).strip(), room, size, bold)
    wide = width_of(shown, size, bold)
    tight = f' textLength="{wide:.0f}" lengthAdjust="spacingAndGlyphs"' if wide > TIGHT * room else ""
    return f'<text class="{kind}" x="{left:.0f}" y="{top + 0.8 * size:.0f}"{tight}>{escape(shown)}</text>'
