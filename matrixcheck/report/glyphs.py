"""How a mark is shown, the same on every face: a single-width glyph, a letter, a word, and a fill.

No mark is known by its colour alone. The fills are from the palette of Okabe and Ito (2008), chosen so that black on
each reaches a contrast of at least 5 to 1 and that they differ in lightness as well as in hue; values from memory.
An untested cell has no fill: a grid fills up as it is tested.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from types import MappingProxyType

from matrixcheck.layout.reading import Mark

GLYPHS: Mapping[Mark, str] = MappingProxyType({Mark.WORKING: "✓", Mark.DEAD: "✗", Mark.STUCK: "*", Mark.UNTESTED: "∙"})

LETTERS: Mapping[Mark, str] = MappingProxyType({Mark.WORKING: "w", Mark.DEAD: "d", Mark.STUCK: "s", Mark.UNTESTED: "u"})

FILLS: Mapping[Mark, str | None] = MappingProxyType(
    {Mark.WORKING: "#56B4E9", Mark.DEAD: "#D55E00", Mark.STUCK: "#F0E442", Mark.UNTESTED: None}
)

INK = "#000000"

ECHOED = "+"
INSTEAD = "/"
DEFERRED = "."
RETEST_DUE = "↻"
INTERMITTENT = "~"
FAINT = "⌇"
NORMAL = "="

LEGEND = " · ".join(f"{GLYPHS[mark]}{LETTERS[mark]} {mark}" for mark in Mark)
SIGNS_LEGEND = (
    f"{ECHOED} others answered too · {INSTEAD} another answered instead · {FAINT} faint · "
    f"{NORMAL} glows, normal here · {INTERMITTENT} comes and goes · "
    f"{RETEST_DUE} test again after a repair · {DEFERRED} put on the later list"
)

IN_ASCII: Mapping[str, str] = MappingProxyType(
    {GLYPHS[mark]: LETTERS[mark] for mark in Mark if not GLYPHS[mark].isascii()}
    | {RETEST_DUE: "r", FAINT: "f"}
    | dict(zip("·…°±Ω≠←→↑↓⌫«»▸●◆─━│┃▌▏“”", '-. ~O#<>^v<<>>o#--||||""', strict=True))
)
"""What stands for our signs on a terminal that knows ASCII alone, each as wide as the sign: a letter for each mark."""


def in_ascii(sign: str) -> str:
    """Return one ASCII character for a sign: its letter, what a letter is without its accent, else `?`."""
    if sign in IN_ASCII:
        return IN_ASCII[sign]
    if unicodedata.name(sign, "").startswith("BOX DRAWINGS"):
        return "+"
    bare = unicodedata.normalize("NFKD", sign)[:1]
    return bare if bare.isascii() and bare.isalpha() else "?"
