"""Reference designators: the class letters of IEEE 315, and `REF-PIN` for a contact."""

from __future__ import annotations

import re
from functools import lru_cache

CLASS_LETTERS = {
    "U": "integrated circuit",
    "Q": "transistor",
    "X": "connector",
    "J": "connector",
    "P": "connector",
    "F": "fuse",
    "K": "relay",
    "R": "resistor",
    "D": "diode",
    "S": "switch",
    "DS": "lamp",
    "L": "inductor",
}
CONNECTORS = frozenset("XJP")

_REF = re.compile(r"(?P<letters>[A-Z]{1,2})(?P<count>[0-9]{1,4})(?:-(?P<pin>[A-Z0-9]{1,4}))?")
_LIKE_REF = re.compile(r"(?P<letters>[A-Z]{1,2})[^A-Z0-9]*(?P<rest>[0-9]+(?:[^A-Z0-9]+[A-Z0-9]+)?)")


@lru_cache(maxsize=4096)
def part_class(ref: str) -> str:
    """Return what a designator's letters stand for ("transistor"). Raises ValueError where it is no designator."""
    found = _REF.fullmatch(ref)
    if not found:
        raise ValueError(
            f"{ref!r:.42} is not a reference designator: letters, a count, and -PIN for a contact, as in X5-4"
        )
    if found["letters"] not in CLASS_LETTERS:
        known = ", ".join(CLASS_LETTERS)
        raise ValueError(f"{ref!r:.42} starts with letters that name no kind of part: use one of {known}")
    return CLASS_LETTERS[found["letters"]]


def is_ref(text: str) -> bool:
    """Return whether it is a designator with known letters."""
    found = _REF.fullmatch(text)
    return found is not None and found["letters"] in CLASS_LETTERS


def owner(ref: str) -> str:
    """Return the part that a contact belongs to: `X5` for `X5-4`; the designator itself for a whole part."""
    return ref.partition("-")[0]


def nearest_ref(text: str) -> str | None:
    """Return the designator that a misspelt one probably means.

    `x5.4` and `X5 4` are `X5-4`, `q-3` is `Q3`, `CR7`, which IEEE 315 has for a diode as well, is `D7`.
    """
    found = _LIKE_REF.fullmatch(text.strip().upper())
    if not found:
        return None
    letters = "D" if found["letters"] == "CR" else found["letters"]
    ref = letters + re.sub("[^A-Z0-9]+", "-", found["rest"])
    return ref if is_ref(ref) else None
