"""The names of checks: how they are compared, and which are of earth continuity."""

from __future__ import annotations

EARTH = "earth bond"


def same(name: str) -> str:
    """Return what checks are compared by: capitals and blanks at the ends make no difference."""
    return " ".join(name.casefold().split())


def is_earth(name: str) -> bool:
    """Return whether a check is of earth continuity: of one metal part, as in `earth bond: door`, or of all."""
    return same(name).partition(":")[0] == EARTH
