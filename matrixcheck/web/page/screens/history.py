"""What was recorded of a job, newest first, and what striking one entry out takes along."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.bench import LogLine
from matrixcheck.record.events import Restored, Withdrawn
from matrixcheck.record.job_state import JobState
from matrixcheck.record.strikes import Strike
from matrixcheck.report.striking import strike_words
from matrixcheck.report.words import moment
from matrixcheck.web.page.screens.head import JobHead, head_of

AT_ONCE = 60
"""Entries on one page."""


@dataclass(frozen=True)
class Entry:
    """One entry: its number, when, who, what; `may` is whether it can be struck out, or have it count again."""

    number: int
    at: str
    who: str
    says: str
    undone: bool
    may: bool


@dataclass(frozen=True)
class HistoryScreen:
    """A page of the history; `older` is the number before which the next page begins, 0 on the last."""

    head: JobHead
    entries: Sequence[Entry]
    total: int
    older: int


@dataclass(frozen=True)
class StrikeScreen:
    """One entry, and what is asked before it is struck out, or counts again."""

    head: JobHead
    entry: Entry
    back: bool
    question: str
    takes_along: str


def history_screen(state: JobState, lines: Sequence[LogLine], before: int = 0) -> HistoryScreen:
    """Return the entries before a number, newest first; 0 begins with the newest."""
    earlier = [one for one in reversed(lines) if not before or one.seq < before]
    shown = earlier[:AT_ONCE]
    older = shown[-1].seq if len(earlier) > AT_ONCE else 0
    may = _steerable(state)
    return HistoryScreen(head_of(state), [_entry(one, may) for one in shown], len(lines), older)


def strike_screen(state: JobState, line: LogLine, strike: Strike) -> StrikeScreen:
    """Return what is asked before an entry is struck out, or counts again."""
    question, more = strike_words(line.text, strike)
    return StrikeScreen(head_of(state), _entry(line, _steerable(state)), strike.back, question, more)


def _entry(one: LogLine, may: frozenset[int]) -> Entry:
    return Entry(one.seq, moment(one.at), one.who, one.text, one.withdrawn, one.seq in may)


def _steerable(state: JobState) -> frozenset[int]:
    """Return the numbers of the entries that can be struck out, or were and can count again."""
    kept = enumerate(state.everything, 1)
    return frozenset(
        number for number, one in kept if one.event.undoable and not isinstance(one.event, Withdrawn | Restored)
    )
