"""The head of the rest of the test mode: how many lines stand how."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.record.function_lists import FunctionLine, function_counts
from matrixcheck.report.functions import FAILS, TITLE, counted
from matrixcheck.tui.text.spans import Row, row, wrapped


def head_rows(lines: Sequence[FunctionLine], width: int) -> tuple[Row, ...]:
    """Return the title, and how many lines stand how."""
    fails = any(one.outcome in FAILS for one in lines)
    return row(TITLE, "title"), *wrapped(counted(function_counts(lines)), width, "alert" if fails else "quiet")
