"""A machine for the bench: which layouts are offered."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class NewJobScreen:
    """The form of a new job, with the names of the layouts that may be chosen."""

    layouts: Sequence[str]


def new_job_screen(layouts: Iterable[str]) -> NewJobScreen:
    """Return the form."""
    return NewJobScreen(tuple(layouts))
