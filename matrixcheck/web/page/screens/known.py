"""A place in words, with what is known of it from checks and repairs."""

from __future__ import annotations

from dataclasses import dataclass

from matrixcheck.record.job_state import JobState
from matrixcheck.report.spots import Spot, place_known, spot_words
from matrixcheck.web.page.screens.photos import PhotoArea, photo_area


@dataclass(frozen=True)
class Known:
    """A part, line or cell: its place as findings name it, its name, and what is known of it."""

    place: str
    words: str
    known: str
    photos: PhotoArea


def known_at(place: str, state: JobState) -> Known:
    """Return a place with what was found or done there."""
    spot = Spot(place)
    words = spot_words(spot, state.layout)
    return Known(place, words, place_known(spot, state), photo_area(state, words, place=place))
