"""What is said of entries that the book doesn't take."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.errors import MatrixCheckError

SHOWN = 8
SLOW = "the book is slow to save them"


def waiting_words(words: Sequence[str], trouble: MatrixCheckError | None, key: str) -> str:
    """Say what waits, in its order, and why, and by which key there is more; nothing while nothing waits."""
    if not words:
        return ""
    before = f"{len(words) - SHOWN} more, " if len(words) > SHOWN else ""
    listed = " · ".join(words[-SHOWN:])
    return f"! NOT KEPT YET: {before}{listed}. {why(trouble)}. They wait in this order; {key} for more."


def now_in(elsewhere: str) -> str:
    """Say in which other book the screens went on; nothing where they stayed."""
    return f"now in {elsewhere}" if elsewhere else ""


def why(trouble: MatrixCheckError | None) -> str:
    """Say why entries wait."""
    return trouble.message if trouble else SLOW
