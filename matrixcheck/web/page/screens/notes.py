"""The notes of a job, newest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.record.job_state import JobState
from matrixcheck.report.words import moment
from matrixcheck.web.page.screens.head import JobHead, head_of


@dataclass(frozen=True)
class Note:
    """A note, and when it was made."""

    at: str
    text: str


@dataclass(frozen=True)
class NotesScreen:
    """The notes of a job."""

    head: JobHead
    notes: Sequence[Note]


def notes_screen(state: JobState) -> NotesScreen:
    """Return what the page of notes shows."""
    return NotesScreen(head_of(state), [Note(moment(one.at), one.text) for one in reversed(state.notes)])
