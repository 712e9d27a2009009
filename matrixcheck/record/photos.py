"""Photos as a book keeps them: JPEG, of bounded size, without what a camera wrote about time and place.

A photo goes by the SHA-256 of its file, in hexadecimal, so that the same one is kept once and a damaged one is noticed.
"""

from __future__ import annotations

import hashlib
import re
from typing import NamedTuple

from matrixcheck.errors import InputError
from matrixcheck.layout.limits import LARGEST_PHOTO, LARGEST_PICTURE, LONGEST_SIDE, MOST_DOTS
from matrixcheck.record.events import PhotoTaken
from matrixcheck.record.jpeg import Jpeg, read_jpeg

_NAME = re.compile("[0-9a-f]{64}")


class Photo(NamedTuple):
    """A picture as it is kept: the JPEG file, its name and its size in dots."""

    name: str
    jpeg: bytes
    width: int
    height: int


def photo_of(picture: bytes, source: str, *, shrink: bool) -> Photo:
    """Return a picture as a book keeps it; `source` names it in errors.

    One that is too large, or not upright, is made so, or without `shrink` refused: then nothing of it is decoded.
    Raises InputError for anything but a JPEG of at most LARGEST_PICTURE bytes and MOST_DOTS dots.
    """
    if len(picture) > LARGEST_PICTURE:
        raise InputError(f"{source}: more than {LARGEST_PICTURE // 1_000_000} MB", "save the picture smaller")
    read = read_jpeg(picture, source)
    if read.width * read.height > MOST_DOTS:
        raise InputError(f"{source}: more than {MOST_DOTS // 1_000_000} megapixels", "save the picture smaller")
    if not _fits(read):
        if not shrink:
            raise InputError(
                f"{source}: the picture is too large, or lies on its side",
                f"it has to be upright, at most {LONGEST_SIDE:,} dots long and {LARGEST_PHOTO:,} bytes",
            )
        from matrixcheck.record.shrinking import shrunk  # noqa: PLC0415 - no other part of the program decodes pictures

        read = read_jpeg(shrunk(picture, LONGEST_SIDE, LARGEST_PHOTO, source), source)
    return Photo(name_of(read.data), read.data, read.width, read.height)


def smaller(jpeg: bytes, longest: int) -> bytes:
    """Return a copy of a photo of at most so many dots a side, for paper; the photo itself where none can be made."""
    from matrixcheck.record.shrinking import shrunk  # noqa: PLC0415 - likewise

    try:
        return shrunk(jpeg, longest, LARGEST_PHOTO, "the photo")
    except InputError:
        return jpeg


def check_kept(name: str, jpeg: bytes, source: str) -> None:
    """Raise InputError unless a file is the photo of that name, and as a book keeps it."""
    if name_of(jpeg) != name:
        raise InputError(f"{source}: the photo was altered or is damaged", "export the job again")
    read = read_jpeg(jpeg, source)
    if read.data != jpeg or not _fits(read):
        raise InputError(f"{source}: the photo is not as a book keeps it", "name a file that `job export` wrote")


def name_of(jpeg: bytes) -> str:
    """Return the name of a photo: its SHA-256."""
    return hashlib.sha256(jpeg).hexdigest()


def check_event(taken: PhotoTaken) -> None:
    """Raise ValueError unless an event can be that of a photo: its name, its size, one thing at most that it shows."""
    sizes = ((taken.width, LONGEST_SIDE), (taken.height, LONGEST_SIDE), (taken.size, LARGEST_PHOTO))
    if not _NAME.fullmatch(taken.photo) or not all(1 <= size <= most for size, most in sizes):
        raise ValueError("no photo is called so, or of that size")
    if sum(map(bool, (taken.place, taken.safety, taken.check, taken.note))) > 1:
        raise ValueError("a photo shows one thing")


def _fits(read: Jpeg) -> bool:
    return read.orientation == 1 and max(read.width, read.height) <= LONGEST_SIDE and len(read.data) <= LARGEST_PHOTO
