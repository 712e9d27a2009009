"""Photos of a job as reports and lists tell them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import PurePath

from matrixcheck.record.job_state import JobState, PhotoMade
from matrixcheck.record.photo_words import shown_by
from matrixcheck.report.data_parts import Data, time_text
from matrixcheck.report.document import Picture, Pictures
from matrixcheck.report.words import moment

ON_PAPER = 1_000
"""Dots of a photo's longer side on a page: some 280 an inch, as it is printed."""


def pictures_of(state: JobState, files: Mapping[str, bytes]) -> Pictures:
    """Return the photos of a job, in the order in which they were taken; `files` are theirs by name, where known."""
    return Pictures(
        tuple(
            Picture(f"Photo {number}", said_of(one, state), moment(one.at), one.name, files.get(one.name))
            for number, one in enumerate(state.photos, 1)
        )
    )


def said_of(one: PhotoMade, state: JobState) -> str:
    """Return what a photo shows, with its caption."""
    shows = shown_by(one, state)
    return f"{shows}: {one.caption}" if one.caption else shows


def photo_lines(state: JobState) -> tuple[str, ...]:
    """Return a line a photo, for a list."""
    if not state.photos:
        return ("No photo is kept with this job.",)
    return tuple(
        f"{number:3}  {moment(one.at)}  {one.width}x{one.height}  {said_of(one, state)}"
        for number, one in enumerate(state.photos, 1)
    )


def photo_data(one: PhotoMade, state: JobState) -> Data:
    """Return a photo as JSON values. `note` and `event` are numbers within the job."""
    return {
        "photo": one.name,
        "width": one.width,
        "height": one.height,
        "size": one.size,
        "place": one.place,
        "safety": one.safety,
        "check": one.check,
        "note": state.number_of(one.note) if one.note else None,
        "caption": one.caption,
        "shows": shown_by(one, state),
        "at": time_text(one.at),
        "event": state.number_of(one.seq),
    }


def file_name(number: int, one: PhotoMade) -> PurePath:
    """Return what the file of a photo is called; the part after its number is the beginning of its SHA-256."""
    return PurePath(f"photo-{number:02}-{one.name[:12]}.jpg")
