"""The rest of the test mode: its lists, each line with its sign and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

from matrixcheck.layout.model import Kind
from matrixcheck.record.events import FunctionVerdict
from matrixcheck.record.function_lists import SECTIONS, FunctionLine, counts_by_list, function_counts, function_lists
from matrixcheck.record.job_state import JobState
from matrixcheck.report.cautions import BY_KIND
from matrixcheck.report.functions import SIGNS, TITLE, counted, line_says
from matrixcheck.web.page.screens.head import JobHead, head_of

VERDICTS: tuple[FunctionVerdict, ...] = get_args(FunctionVerdict)


@dataclass(frozen=True)
class Line:
    """One line: its name with its list, its sign, and what came of it."""

    id: str
    name: str
    item: str
    sign: str
    outcome: str
    says: str
    about: str


@dataclass(frozen=True)
class List:
    """One list with how far it is."""

    section: str
    counted: str
    lines: Sequence[Line]


@dataclass(frozen=True)
class FunctionsScreen:
    """All lists of a job."""

    head: JobHead
    title: str
    counted: str
    lists: Sequence[List]
    verdicts: Sequence[str]
    caution: str


def functions_screen(state: JobState) -> FunctionsScreen:
    """Return what the page of the rest of the test mode shows."""
    lines = function_lists(state)
    by_list = counts_by_list(lines)
    lists = [
        List(
            section,
            counted(by_list[section]),
            [_line(place, one) for place, one in enumerate(lines, 1) if one.section == section],
        )
        for section in SECTIONS
    ]
    return FunctionsScreen(head_of(state), TITLE, counted(function_counts(lines)), lists, VERDICTS, BY_KIND[Kind.COIL])


def _line(place: int, one: FunctionLine) -> Line:
    says = line_says(one) if one.made else "not tested"
    return Line(f"line-{place}", one.name, one.item, SIGNS[one.outcome], one.outcome, says, one.about)
