"""Lettering that fits: how wide a text is, and how it breaks into lines.

Widths are those of Helvetica in Adobe's font metrics (from memory), which the usual sans-serif fonts share. A drawing
gives the browser each tight line's width as well, so that no other font can make it wider.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from unicodedata import combining, east_asian_width

_WIDTHS = {
    191: "'", 222: "ijl", 260: "|", 278: " \N{NO-BREAK SPACE}!,./:;I[\\]ft", 333: "()-`r", 334: "{}", 355: '"',
    389: "*", 469: "^", 500: "Jcksvxyz", 556: "#$0123456789?L_abdeghnopqu", 584: "+<=>~", 611: "FTZ", 667: "&ABEKPSVXY",
    722: "CDHNRUw", 778: "GOQ", 833: "Mm", 889: "%", 944: "W", 1015: "@",
}  # fmt: skip
_WIDTH_OF = {sign: width for width, signs in _WIDTHS.items() for sign in signs}
_USUAL, _FULL = 620, 1000
"""Of a sign that the table lacks, and of one that East Asian fonts draw as wide as it is high (UAX #11)."""
BOLDER = 1.08
ELLIPSIS = "…"
REMEMBERED = 4096
"""Texts whose lines are remembered: a page is measured again and again until it fits."""


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a text of that size is, in the unit of the size."""
    return sum(map(_width, text)) * size * (BOLDER if bold else 1.0) / 1000


def cut(text: str, room: float, size: float, bold: bool = False) -> str:
    """Return the text, shortened with an ellipsis where it is wider than the room."""
    if width_of(text, size, bold) <= room:
        return text
    kept = text
    while kept and width_of(kept.rstrip() + ELLIPSIS, size, bold) > room:
        kept = kept[:-1]
    return kept.rstrip() + ELLIPSIS


@lru_cache(maxsize=REMEMBERED)
def wrapped(text: str, room: float, size: float, most: int, bold: bool = False) -> tuple[str, ...]:
    """Return the text in at most that many lines that fit the room.

    It breaks at blanks and behind hyphens, within a word only where the word alone is too wide. What is beyond the
    last line is left out, and an ellipsis says so.
    """
    lines: list[str] = []
    for piece in _pieces(text, room, size, bold):
        joined = f"{lines[-1]}{piece}" if lines else piece
        if lines and width_of(joined.rstrip(), size, bold) <= room:
            lines[-1] = joined
        else:
            lines.append(piece)
    lines = [line.strip() for line in lines]
    if len(lines) <= most:
        return tuple(lines)
    return (*lines[: most - 1], cut(f"{' '.join(lines[most - 1 : most + 1])}{ELLIPSIS}", room, size, bold))


def _pieces(text: str, room: float, size: float, bold: bool) -> Iterator[str]:
    """Yield what stands together on a line: words with the blank behind, and bits of those that are too wide."""
    for word in re.findall(r"[^ -]*-+ *|[^ -]+ *", text):
        bit = ""
        for sign in word:
            if bit and width_of((bit + sign).rstrip(), size, bold) > room:
                yield bit
                bit = ""
            bit += sign
        yield bit


def _width(sign: str) -> int:
    if sign in _WIDTH_OF:
        return _WIDTH_OF[sign]
    if combining(sign):
        return 0
    return _FULL if east_asian_width(sign) in "WF" or ord(sign) > 0xFFFF else _USUAL
