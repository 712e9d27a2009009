"""Lines of text in tones. A tone is a role (`quiet`, `strong`, `dead`); the stylesheets say what it looks like."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import Literal, get_args

from matrixcheck.report.words import lines_of

Tone = Literal[
    "plain",
    "quiet",
    "struck",
    "strong",
    "title",
    "alert",
    "working",
    "dead",
    "stuck",
    "untested",
    "cursor",
    "lit",
    "here",
    "key",
    "button",
    "button-key",
]

TONES: tuple[Tone, ...] = get_args(Tone)

Span = tuple[str, Tone]
Row = tuple[Span, ...]


def row(text: str = "", tone: Tone = "plain") -> Row:
    """Return one line in one tone."""
    return ((text, tone),) if text else ()


def wrapped(text: str, width: int, tone: Tone = "plain", indent: str = "", first: str | None = None) -> tuple[Row, ...]:
    """Return a text broken at words into indented lines of at most `width` characters; `first` begins the first."""
    lines = lines_of(text, max(width, 8), indent if first is None else first, indent)
    return tuple(row(line, tone) for line in lines)


def clipped(text: str, width: int) -> str:
    """Return a text cut to `width` characters, the cut shown by an ellipsis."""
    return text if len(text) <= width else text[: max(width - 1, 0)] + "…"


def fitted(spans: Sequence[Span], width: int) -> Row:
    """Return a line as it is where it fits into `width` characters, else cut with an ellipsis at its end."""
    text = "".join(part for part, _ in spans)
    if len(text.rstrip()) <= width:
        return tuple(spans)
    kept: list[Span] = []
    room = max(width - 1, 0)
    for part, tone in spans:
        kept.append((part[:room], tone))
        room -= len(part[:room])
        if not room:
            return (*kept, ("…", tone))
    return tuple(kept)


def changed(old: Row, new: Row) -> int:
    """Return how many characters there are from the start of two lines to the last in which they differ."""
    before, after = ([(sign, tone) for text, tone in spans for sign in text] for spans in (old, new))
    return max((place for place, (one, other) in enumerate(zip_longest(before, after), 1) if one != other), default=0)


def shortened(rows: Sequence[Row], most: int, width: int = 0) -> tuple[Row, ...]:
    """Return at most so many lines of a text, the last with an ellipsis where more would follow.

    The ellipsis takes the place of the last word, but for a line that leaves room for it within `width`.
    """
    if len(rows) <= most:
        return tuple(rows)
    if not rows[most - 1]:
        return (*rows[: most - 1], row(" …", "quiet"))
    text, tone = rows[most - 1][-1]
    if sum(len(part) for part, _ in rows[most - 1]) + 2 <= width:
        return (*rows[: most - 1], (*rows[most - 1], (" …", "quiet")))
    return (*rows[: most - 1], (*rows[most - 1][:-1], (f"{text.rpartition(' ')[0]} …", tone)))


def in_part(rows: Sequence[Row], first: int, size: tuple[int, int]) -> tuple[Row, ...]:
    """Return the rows from the first on that fit a width and a height; arrows at the edge say where there are more."""
    width, height = size
    shown = list(rows[first : first + height])
    if shown and first:
        shown[0] = _with_arrow(shown[0], "↑", width)
    if shown and first + height < len(rows):
        shown[-1] = _with_arrow(shown[-1], "↓", width)
    return tuple(shown)


def _with_arrow(spans: Row, arrow: str, width: int) -> Row:
    kept = fitted(spans, width - 2)
    gap = width - 1 - sum(len(text) for text, _ in kept)
    return (*kept, (" " * gap, "plain"), (arrow, "key"))


def plain(rows: Iterable[Sequence[Span]]) -> str:
    """Return the rows without their tones, one a line."""
    return "\n".join("".join(text for text, _ in spans) for spans in rows)
