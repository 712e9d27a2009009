"""What the shapes that the journal keeps have in common: they never change, and JSON gives them back as they were."""

from __future__ import annotations

from typing import TypeVar

from msgspec import DecodeError, Struct
from msgspec.json import decode, encode

Kept = TypeVar("Kept", bound="Frozen")


class Frozen(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """A frozen shape. Its types are not looked at as it is made, only as it is read from JSON."""


def to_json(shape: Frozen) -> str:
    """Return the shape without what it leaves at its default.

    Raises ValueError where it couldn't be read back as it is.
    """
    body = encode(shape)
    if from_json(type(shape), body) != shape:
        raise ValueError(f"{shape!r:.200} would not be read back as it is")
    return body.decode()


def from_json(kind: type[Kept], body: str | bytes) -> Kept:
    """Return the shape that `to_json` wrote. Raises ValueError, saying where, for anything else."""
    try:
        return decode(body, type=kind)
    except DecodeError as error:
        raise ValueError(str(error)) from error
