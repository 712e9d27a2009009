"""What was recorded of a job, newest first: who, when, what."""

from __future__ import annotations

from functools import lru_cache

from matrixcheck.bench import LogLine
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


def _what(line: LogLine, width: int, indent: str) -> tuple[Row, ...]:
    if not line.withdrawn:
        return wrapped(line.text, width, indent=indent)
    return tuple(_struck(each) for each in wrapped(f"{line.text} {UNDONE}", width, indent=indent))


def _struck(line: Row) -> Row:
    """Return a line struck through, but for the blanks before it."""
    text = "".join(part for part, _ in line)
    bare = text.lstrip()
    return ((text[: len(text) - len(bare)], "plain"), (bare, "struck"))
