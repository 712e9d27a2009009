"""The checks before power as the screens show them: each with its sign and how it came out."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.record.safety_checks import Outcome, SafetyItem, counts
from matrixcheck.report.safety import OUTCOME_WORDS, counted
from matrixcheck.report.words import moment
from matrixcheck.tui.text.spans import Row, row

SIGNS: dict[Outcome, str] = {"open": "∙", "failed": "✗", "passed": "✓", "waived": "w"}
TITLE = "Before power"
PLUG_FAULTS = ("off", "askew", "a pin aside", "the colours don't match", "on another's header: stop")
"""What can be wrong with a plug: common practice, no source."""


def check_name(one: SafetyItem) -> str:
    """Return the check with its sign."""
    return f"{SIGNS[one.outcome]} {one.item}"


def check_says(one: SafetyItem) -> str:
    """Return how it came out, or what to look at."""
    if one.made is None:
        return f"not checked: {one.about}" if one.about else "not checked"
    note = f": {one.made.note}" if one.made.note else ""
    return f"{OUTCOME_WORDS[one.outcome]} {moment(one.made.at)}{note}"


def what_is_wrong(one: SafetyItem) -> tuple[str, tuple[str, ...]]:
    """Return what is asked where a check fails, and what is offered for an answer."""
    if one.one_of == "fuses":
        return f"{one.item}: what is in the holder?", ()
    return f"{one.item}: what is wrong?", PLUG_FAULTS if one.one_of == "plugs" else ()


def head_rows(items: Sequence[SafetyItem], width: int) -> tuple[Row, ...]:
    """Return the title with how many checks stand how, on two lines where one is too narrow."""
    count = counts(items)
    title, said = row(TITLE, "title"), row(counted(count), "alert" if count.failed else "quiet")
    if len(TITLE) + 2 + len(counted(count)) > width:
        return title, said
    return ((*title, ("  ", "plain"), *said),)
