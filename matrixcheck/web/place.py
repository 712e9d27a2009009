"""A place in the screens."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """Where the screens are: a job and one of its matrices. None: not in a job, or no particular matrix."""

    job: str | None = None
    matrix: str | None = None
