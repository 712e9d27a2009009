"""The head of the checks before power: how many stand how."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.record.safety_checks import SafetyItem, counts
from matrixcheck.report.safety import counted
from matrixcheck.report.safety_asked import TITLE
from matrixcheck.tui.text.spans import Row, row


def head_rows(items: Sequence[SafetyItem], width: int) -> tuple[Row, ...]:
    """Return the title with how many checks stand how, on two lines where one is too narrow."""
    count = counts(items)
    title, said = row(TITLE, "title"), row(counted(count), "alert" if count.failed else "quiet")
    if len(TITLE) + 2 + len(counted(count)) > width:
        return title, said
    return ((*title, ("  ", "plain"), *said),)
