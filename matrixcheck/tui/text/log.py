"""What was recorded of a job, in lines, newest first."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.bench import LogLine
from matrixcheck.report.words import moment
from matrixcheck.tui.text.spans import Row, wrapped


def log_rows(lines: Sequence[LogLine], width: int) -> tuple[Row, ...]:
    """Return the lines, each with its time; what was undone says so."""
    rows: list[Row] = []
    for line in reversed(lines):
        says = f"{moment(line.at)}  {line.text}{' [undone since]' if line.withdrawn else ''}"
        rows += wrapped(says, width, "quiet" if line.withdrawn else "plain", indent="  ", first="")
    return tuple(rows)
