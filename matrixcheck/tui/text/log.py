"""What was recorded of a job, newest first: who, when, what; and what striking a line out takes along."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from functools import lru_cache

from matrixcheck.bench import LogLine
from matrixcheck.layout.places import CellKey
from matrixcheck.record.strikes import Strike
from matrixcheck.report.words import moment
from matrixcheck.tui.text.spans import Row, clipped, row, wrapped

UNDONE = "[undone since]"
LONGEST_WHO = 12
ALL = 10_000
"""Lines whose text is remembered: a long evening has some thousands."""


@lru_cache(ALL)
def log_block(line: LogLine, width: int, beside: bool) -> tuple[Row, ...]:
    """Return one event as lines: its number, when, who and what, on one line where there is room (`beside`).

    What was undone is struck, and says so.
    """
    who = clipped(line.who or "-", LONGEST_WHO)
    head = f"{line.seq:>4}  {moment(line.at)}  {who:<{LONGEST_WHO}}"
    if not beside:
        return (row(head.rstrip(), "quiet"), *_what(line, width, "      "))
    indent = len(head) + 2
    first, *others = _what(line, width - indent, "")
    return (((f"{head}  ", "quiet"), *first), *(((" " * indent, "plain"), *each) for each in others))


def strike_words(what: str, strike: Strike) -> tuple[str, str]:
    """Return the question before a line is struck out, or counts again, that reaches further; and what it takes
    along."""
    question = f"Count it again? {what}" if strike.back else f"Strike it out? {what}"
    more = f"It changes how {counted_cells(strike.cells)} stand." if strike.cells else ""
    stop = "A coil counts as on at rest from then on: the power must be off." if strike.stop else ""
    return question, " ".join(filter(None, [more, stop]))


def counted_cells(cells: Iterable[CellKey]) -> str:
    """Return how many cells of which matrix, as in "3 cells of switches and 1 of lamps"."""
    by_matrix = Counter(cell.matrix for cell in cells)
    (first, count), *others = by_matrix.items()
    words = [f"{count} {'cell' if count == 1 else 'cells'} of {first}"]
    words += [f"{many} of {matrix}" for matrix, many in others]
    return words[0] if not others else f"{', '.join(words[:-1])} and {words[-1]}"


def _what(line: LogLine, width: int, indent: str) -> tuple[Row, ...]:
    if not line.withdrawn:
        return wrapped(line.text, width, indent=indent)
    return tuple(_struck(each) for each in wrapped(f"{line.text} {UNDONE}", width, indent=indent))


def _struck(line: Row) -> Row:
    """Return a line struck through, but for the blanks before it."""
    text = "".join(part for part, _ in line)
    bare = text.lstrip()
    return ((text[: len(text) - len(bare)], "plain"), (bare, "struck"))
