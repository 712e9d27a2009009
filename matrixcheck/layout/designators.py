"""Reference designators: the class letters of IEEE 315, and `REF-PIN` for a contact."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import AfterValidator

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

_REF = re.compile(r"(?P<letters>[A-Z]{1,2})(?P<count>\d{1,4})(?:-(?P<pin>[A-Z0-9]{1,4}))?")


def part_class(ref: str) -> str:
    """What a designator's letters stand for ("transistor"). Raises ValueError where it is no designator."""
    found = _REF.fullmatch(ref)
    if not found:
        raise ValueError(f"'{ref}' is no reference designator: letters, a count, and -PIN for a contact, as in X5-4")
    if found["letters"] not in CLASS_LETTERS:
        known = ", ".join(CLASS_LETTERS)
        raise ValueError(f"'{ref}' starts with letters that name no kind of part: use one of {known}")
    return CLASS_LETTERS[found["letters"]]


def owner(ref: str) -> str:
    """The part that a contact belongs to: `X5` for `X5-4`; the designator itself for a whole part."""
    return ref.partition("-")[0]


def _checked(ref: str) -> str:
    part_class(ref)
    return ref


Ref = Annotated[str, AfterValidator(_checked)]
