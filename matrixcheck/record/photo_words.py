"""What a photo shows, in words."""

from __future__ import annotations

from collections.abc import Mapping

from matrixcheck.layout.model import Layout
from matrixcheck.layout.wording import place_words
from matrixcheck.record.events import Noted, PhotoTaken
from matrixcheck.record.job_state import JobState, PhotoMade


def shows(one: PhotoTaken | PhotoMade, layout: Layout, notes: Mapping[int, str] | None = None) -> str:
    """Return what a photo shows; `notes` are the texts of notes by seq, as far as they are known."""
    if one.place:
        return place_words(layout, one.place)
    if one.safety:
        return f"safety check: {one.safety}"
    if one.check:
        return f"bench check: {one.check}"
    if one.note:
        text = (notes or {}).get(one.note, "")
        return f"note: {text}" if text else "a note"
    return "the machine"


def shown_by(one: PhotoMade, state: JobState) -> str:
    """Return what a photo of a job shows, a note by its text, also where that was taken back since."""
    taken_back = {each.seq: each.event.text for each in state.struck if isinstance(each.event, Noted)}
    if one.note in taken_back:
        return f"note that was undone: {taken_back[one.note]}"
    return shows(one, state.layout, {note.seq: note.text for note in state.notes})
