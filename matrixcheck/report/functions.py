"""The rest of the test mode in words: what each line comes to, and how far a list is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from matrixcheck.record.function_lists import FunctionCounts, FunctionLine, Outcome, counts_by_list
from matrixcheck.record.summary import VERDICT_WORDS
from matrixcheck.report.words import moment

OUTCOME_WORDS: Mapping[Outcome, str] = MappingProxyType(dict(VERDICT_WORDS) | {"untested": "not tested"})
FAILS: frozenset[Outcome] = frozenset({"faulty", "comes and goes"})
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


def counted(count: FunctionCounts) -> str:
    """Return how many lines stand how, as in "2 good, 1 FAULTY, 3 not tested"; what there is none of goes unsaid."""
    words = (
        (count.good, "good"),
        (count.faulty, "FAULTY"),
        (count.comes_and_goes, "comes and goes" if count.comes_and_goes == 1 else "come and go"),
        (count.not_fitted, "not fitted"),
        (count.untested, "not tested"),
    )
    return ", ".join(f"{many} {what}" for many, what in words if many)


def list_lines(lines: Sequence[FunctionLine]) -> tuple[str, ...]:
    """Return how far each list is, a line each."""
    return tuple(f"{section:<9}  {counted(count)}" for section, count in counts_by_list(lines).items())


def failing(lines: Sequence[FunctionLine]) -> tuple[str, ...]:
    """Return the lines that fail, with what is noted, as in "sound: knocker faulty (coil open)"."""
    return tuple(
        f"{one.name} {one.made.verdict}{f' ({one.made.note})' if one.made.note else ''}"
        for one in lines
        if one.made and one.outcome in FAILS
    )


def untested(lines: Sequence[FunctionLine]) -> tuple[str, ...]:
    """Return the lists with lines that nobody tried, as in "sound (2 of 3 lines)"."""
    return tuple(
        section if count.untested == sum(count) else f"{section} ({count.untested} of {sum(count)} lines)"
        for section, count in counts_by_list(lines).items()
        if count.untested
    )
