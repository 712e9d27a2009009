"""Photos: those of a job, one by itself, its file; and what the phone takes."""

from __future__ import annotations

from collections.abc import Mapping

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import LARGEST_PHOTO, whole_number
from matrixcheck.layout.naming import place_named
from matrixcheck.layout.wording import place_words
from matrixcheck.record.events import Noted
from matrixcheck.record.job_state import JobState, PhotoMade
from matrixcheck.record.validation import event_numbered
from matrixcheck.report.photos import said_of
from matrixcheck.web.page.asking import Asked, File, Get, Post, Route, Shown, Taken, Upload
from matrixcheck.web.page.screens.photos import PhotoArea, one_photo_screen, photo_area, photos_screen


def photos(bench: Bench, asked: Asked) -> Shown:
    """Show every photo of a job, or those of what the query names, and take one of that."""
    state = bench.state(asked.job)
    return Shown("photos.html", photos_screen(state, _area(state, asked.query)))


def one(bench: Bench, asked: Asked) -> Shown:
    """Show one photo as large as it is."""
    state = bench.state(asked.job)
    return Shown("one_photo.html", one_photo_screen(_numbered(state, asked), state))


def file(bench: Bench, asked: Asked) -> bytes:
    """Return the file of a photo."""
    return bench.photo(asked.parts["name"])


def take(bench: Bench, asked: Asked, file: bytes) -> Taken:
    """Keep a photo; the phone has shrunk it and set it upright, and nothing here decodes it."""
    made = bench.attach(
        asked.job,
        file,
        "this photo",
        place=asked.text("place"),
        check=asked.text("check"),
        note=whole_number(asked.text("note")) or 0,
        caption=asked.text("caption"),
        shrink=False,
        send=asked.send,
    )
    state = bench.state(asked.job)
    return Taken(state.seq, f"kept: photo of {said_of(made, state)}")


def undo(bench: Bench, asked: Asked) -> Taken:
    """Take a photo back."""
    number = _event_number(asked)
    _numbered(bench.state(asked.job), asked)
    undone = bench.undo(asked.job, event=number, send=asked.send)
    return Taken(undone.seq, f"undone: {'; '.join(undone.what)}")


def _area(state: JobState, about: Mapping[str, str]) -> PhotoArea | None:
    """Return the photos of the place, the check or the note that a query names, None where it names nothing.

    Raises UsageError for what the job doesn't have.
    """
    if place := about.get("place", ""):
        found = place_named(place, state.layout)
        return photo_area(state, place_words(state.layout, found), place=found)
    if check := about.get("check", ""):
        return photo_area(state, check, check=check)
    number = whole_number(about.get("note", ""))
    if number is None:
        return None
    note = event_numbered(state, number)
    if not isinstance(note.event, Noted):
        raise UsageError(f"event {number} is no note", "go back to the notes")
    return photo_area(state, f"the note {note.event.text}", note=note.seq)


def _event_number(asked: Asked) -> int:
    """Return the number of the event that the address names. Raises UsageError for none."""
    number = whole_number(asked.parts["number"])
    if number is None:
        raise UsageError("this address names no photo", "go back to the job")
    return number


def _numbered(state: JobState, asked: Asked) -> PhotoMade:
    number = _event_number(asked)
    found = next((one for one in state.photos if state.number_of(one.seq) == number), None)
    if found is None:
        raise UsageError(f"job {state.id} has no photo {number}", "it may have been undone; go back to the job")
    return found


ROUTES: tuple[Route, ...] = (
    Get("/job/{job}/photos", photos),
    Get("/job/{job}/photo/{number}", one),
    Post("/job/{job}/photo/{number}/undo", undo),
    Upload("/job/{job}/photo", "image/jpeg", LARGEST_PHOTO, take),
    File("/photo/{name}", "image/jpeg", file),
)
