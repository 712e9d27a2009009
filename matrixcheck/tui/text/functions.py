"""The rest of the test mode as the screens show it: each line with its sign and what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from matrixcheck.record.function_lists import FunctionLine, Outcome, function_counts
from matrixcheck.report.functions import FAILS, OUTCOME_WORDS, counted
from matrixcheck.report.words import moment
from matrixcheck.tui.text.spans import Row, row, wrapped

SIGNS: Mapping[Outcome, str] = MappingProxyType(
    {"untested": "∙", "good": "✓", "faulty": "✗", "comes and goes": "~", "not fitted": "-"}
)
TITLE = "The rest of the test mode"


def line_name(one: FunctionLine) -> str:
    """Return the line with its sign."""
    return f"{SIGNS[one.outcome]} {one.name}"


def line_says(one: FunctionLine) -> str:
    """Return what came of it, or what to look for."""
    words = OUTCOME_WORDS[one.outcome]
    if one.made is None:
        return f"{words}: {one.about}" if one.about else words
    return f"{words} {moment(one.made.at)}{f': {one.made.note}' if one.made.note else ''}"


def head_rows(lines: Sequence[FunctionLine], width: int) -> tuple[Row, ...]:
    """Return the title, and how many lines stand how."""
    fails = any(one.outcome in FAILS for one in lines)
    return row(TITLE, "title"), *wrapped(counted(function_counts(lines)), width, "alert" if fails else "quiet")
