"""Photos: those of one thing, wherever that is shown; those of a job; one by itself."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from matrixcheck.record.job_state import JobState, PhotoMade
from matrixcheck.report.photos import said_of
from matrixcheck.report.words import moment

_STRANGE = re.compile("[^a-z0-9]+")


@dataclass(frozen=True)
class PhotoShown:
    """One photo: its event's number within the job, its name in the book, what it shows, when, by whom, its size."""

    number: int
    name: str
    says: str
    at: str
    who: str
    width: int
    height: int


@dataclass(frozen=True)
class PhotoArea:
    """The photos of one thing, and what a new one is taken of; `id` is for the page. `note` is an event's number."""

    id: str
    job: str
    of: str
    place: str
    check: str
    note: str
    photos: Sequence[PhotoShown]

    @property
    def href(self) -> str:
        """Return the address of a page of its own."""
        about = {"place": self.place, "check": self.check, "note": self.note}
        query = urlencode({name: value for name, value in about.items() if value})
        return f"/job/{self.job}/photos{f'?{query}' if query else ''}"


@dataclass(frozen=True)
class PhotosScreen:
    """The photos of one thing, or all of a job, as of its event `seq`; a new one of these is of the machine."""

    seq: int
    job: str
    job_name: str
    area: PhotoArea


@dataclass(frozen=True)
class OnePhotoScreen:
    """One photo of a job as of its event `seq`."""

    seq: int
    job: str
    job_name: str
    photo: PhotoShown


def photo_area(state: JobState, of: str, *, place: str = "", check: str = "", note: int = 0) -> PhotoArea:
    """Return the photos of one thing, named `of` in words.

    It is a place as the record keeps it, a check before power or the code of a bench check, or the note of that seq.
    """
    found = [
        one
        for one in state.photos
        if (place and one.place == place) or (check and check in (one.check, one.safety)) or (note and one.note == note)
    ]
    number = str(state.number_of(note)) if note else ""
    mark = _STRANGE.sub("-", (place or check or number).lower()).strip("-")
    return PhotoArea(f"photos-{mark}", state.id, of, place, check, number, [_shown(one, state) for one in found])


def photos_screen(state: JobState, area: PhotoArea | None = None) -> PhotosScreen:
    """Return what a page of photos shows: those of one thing, else all of the job, the newest first."""
    if area is None:
        photos = [_shown(one, state) for one in reversed(state.photos)]
        area = PhotoArea("photos-all", state.id, "the machine", "", "", "", photos)
    return PhotosScreen(state.seq, state.id, state.name, area)


def one_photo_screen(one: PhotoMade, state: JobState) -> OnePhotoScreen:
    """Return what the page of one photo shows."""
    return OnePhotoScreen(state.seq, state.id, state.name, _shown(one, state))


def _shown(one: PhotoMade, state: JobState) -> PhotoShown:
    by = next((each for each in state.everything if each.seq == one.seq), None)
    who = by.initials if by else ""
    return PhotoShown(
        state.number_of(one.seq), one.name, said_of(one, state), moment(one.at), who, one.width, one.height
    )
