"""The notes of a job, newest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.record.job_state import JobState
from matrixcheck.report.words import moment
from matrixcheck.web.page.screens.head import JobHead, head_of
from matrixcheck.web.page.screens.photos import PhotoArea, photo_area


@dataclass(frozen=True)
class Note:
    """A note, when it was made, and its photos."""

    at: str
    text: str
    photos: PhotoArea


@dataclass(frozen=True)
class NotesScreen:
    """The notes of a job."""

    head: JobHead
    notes: Sequence[Note]


def notes_screen(state: JobState) -> NotesScreen:
    """Return what the page of notes shows."""
    notes = [
        Note(moment(one.at), one.text, photo_area(state, f"the note {one.text}", note=one.seq))
        for one in reversed(state.notes)
    ]
    return NotesScreen(head_of(state), notes)
