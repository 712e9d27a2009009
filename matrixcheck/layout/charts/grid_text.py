"""A grid of texts drawn with letters: as wide as it may be, in several strips where it is wider."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from textwrap import wrap
from unicodedata import east_asian_width

LEAST_COLUMN = 9
MOST_COLUMN = 22


def drawn(rows: Sequence[Sequence[str]], heads: int, width: int) -> Iterator[str]:
    """Yield the lines of a grid whose first `heads` columns stand again in each strip; entries are folded."""
    count = len(rows[0])
    left = [_width([row[column] for row in rows], MOST_COLUMN) for column in range(heads)]
    room = width - sum(left) - 3 * heads
    fit = max(1, min(count - heads, (room + 3) // (LEAST_COLUMN + 3)))
    strips = -(-(count - heads) // fit)
    fit = -(-(count - heads) // strips) if strips else fit
    for start in range(heads, count, fit):
        here = range(start, min(start + fit, count))
        most = max(LEAST_COLUMN, min(MOST_COLUMN, (room + 3) // len(here) - 3))
        widths = left + [_width([row[column] for row in rows], most) for column in here]
        if start > heads:
            yield ""
        for row in rows:
            yield from _row([*row[:heads], *(row[column] for column in here)], widths)


def cells_wide(text: str) -> int:
    """Return how many columns of a terminal a text takes."""
    return sum(2 if east_asian_width(sign) in "WF" else 1 for sign in text)


def _width(texts: Sequence[str], most: int) -> int:
    longest = max((cells_wide(line) for text in texts for line in text.split("\n")), default=0)
    words = max((cells_wide(word) for text in texts for word in text.split()), default=0)
    return min(longest, max(most, min(words, most + 6)))


def _row(entries: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    folded = [
        [part for line in entry.split("\n") for part in (wrap(line, max(width, 1)) or [""])]
        for entry, width in zip(entries, widths, strict=True)
    ]
    for depth in range(max(map(len, folded))):
        parts = [lines[depth] if depth < len(lines) else "" for lines in folded]
        padded = [part + " " * (width - cells_wide(part)) for part, width in zip(parts, widths, strict=True)]
        yield " | ".join(padded).rstrip()
