"""Short ids of jobs: quick to type, hard to mistake."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

# Digits and consonants that are not mistaken for one another on a screen or a label, and spell no words.
_LETTERS = "23456789bcdfghjkmnpqrstvwxz"
_LENGTH = 4


def short_ids(seed: str) -> Iterator[str]:
    """Yield short ids without end, the same for the same seed."""
    count = 0
    while True:
        number = int.from_bytes(hashlib.sha256(f"{seed}/{count}".encode()).digest())
        letters = []
        for _ in range(_LENGTH):
            number, place = divmod(number, len(_LETTERS))
            letters.append(_LETTERS[place])
        yield "".join(letters)
        count += 1
