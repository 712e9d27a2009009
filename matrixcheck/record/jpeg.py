"""JPEG files (ITU-T T.81, ISO/IEC 10918-1): read strictly, and written again without what a camera says about them.

A camera writes time, place and its own number into application segments and comments, and some write more behind the
end of the picture. What decodes the picture stays as it is, so that not one dot of it changes; of the other segments
only these stay: JFIF's without its thumbnail, Adobe's, which says how colours are coded, and ICC's, which says which
colours they are.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import NamedTuple

from matrixcheck.errors import InputError

_START, _END, _SCAN, _COMMENT = 0xD8, 0xD9, 0xDA, 0xFE
_JFIF, _EXIF, _ICC, _ADOBE = 0xE0, 0xE1, 0xE2, 0xEE
_APPLICATION = range(0xE0, 0xF0)
_RESTART = range(0xD0, 0xD8)
_TABLES = frozenset((0xC4, 0xDB, 0xDD))
"""Huffman codes, quantisation, and how often decoding begins anew."""
_FRAMES = frozenset((0xC0, 0xC1, 0xC2))
"""Baseline, extended and progressive, with Huffman codes: what every browser shows."""
_ORIENTATION = 0x0112
MOST_SCANS = 64
"""No camera writes more than a dozen; each is worked through over the whole picture."""


class Jpeg(NamedTuple):
    """A picture of `width` by `height` dots, as the file `data` without what isn't needed to show it.

    `orientation` is how it has to be turned or mirrored to stand upright, as Exif numbers it: 1 for not at all.
    """

    data: bytes
    width: int
    height: int
    orientation: int


class _Segment(NamedTuple):
    marker: int
    body: bytes
    coded: bytes = b""


def read_jpeg(data: bytes, source: str) -> Jpeg:
    """Return the picture in a JPEG file; `source` names it in errors. Raises InputError for anything else."""
    size: tuple[int, int] | None = None
    kept: list[bytes] = [b"\xff\xd8"]
    orientation, scans = 1, 0
    for segment in _segments(data, source):
        marker, body = segment.marker, segment.body
        if marker in _FRAMES:
            if size is not None:
                raise _refused(source, "holds two pictures")
            size = _size(body, source)
        elif marker == _SCAN:
            scans += 1
            if size is None or scans > MOST_SCANS:
                raise _refused(source, "is damaged" if size is None else f"has more than {MOST_SCANS} scans")
        elif marker == _EXIF and orientation == 1:
            orientation = _orientation(body)
        needed = _needed(marker, body)
        if needed is not None:
            kept.append(struct.pack(">BBH", 0xFF, marker, len(needed) + 2) + needed + segment.coded)
    if size is None or not scans:
        raise _refused(source, "holds no picture")
    return Jpeg(b"".join([*kept, b"\xff\xd9"]), *size, orientation)


def _segments(data: bytes, source: str) -> Iterator[_Segment]:
    """Yield every segment up to the end of the picture, a scan with what is coded behind it."""
    if data[:2] != bytes((0xFF, _START)):
        raise InputError(f"{source} is not a JPEG picture", "take it as JPEG, or save it as one")
    at = 2
    while True:
        marker, at = _marker(data, at, source)
        if marker == _END:
            return
        if marker != _SCAN and marker not in _TABLES | _FRAMES | {_COMMENT} and marker not in _APPLICATION:
            raise _refused(source, "is of a kind that browsers don't show")
        length = int.from_bytes(data[at : at + 2])
        body = data[at + 2 : at + length]
        if length < 2 or len(body) != length - 2:
            raise _refused(source, "is cut off or damaged")
        at += length
        end = _scan_end(data, at, source) if marker == _SCAN else at
        yield _Segment(marker, body, data[at:end])
        at = end


def _marker(data: bytes, at: int, source: str) -> tuple[int, int]:
    """Return the marker at a place, and the place behind it. Any number of fill bytes may stand before it."""
    if data[at : at + 1] != b"\xff":
        raise _refused(source, "is cut off or damaged")
    while data[at : at + 1] == b"\xff":
        at += 1
    if at >= len(data):
        raise _refused(source, "is cut off or damaged")
    return data[at], at + 1


def _scan_end(data: bytes, at: int, source: str) -> int:
    """Return where what is coded from a place on ends: at the next marker that is no restart and no stuffed byte."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise _refused(source, "is cut off")
        following = data[at + 1]
        if following != 0 and following not in _RESTART:
            return at
        at += 2


def _size(frame: bytes, source: str) -> tuple[int, int]:
    if len(frame) < 6 or len(frame) != 6 + 3 * frame[5]:
        raise _refused(source, "is damaged")
    bits, height, width, colours = struct.unpack(">BHHB", frame[:6])
    if bits != 8 or colours not in (1, 3):
        raise _refused(source, "is of a kind that browsers don't show")
    if not (width and height):
        raise _refused(source, "is damaged")
    return width, height


def _needed(marker: int, body: bytes) -> bytes | None:
    """Return what of a segment is needed to show the picture; None for nothing of it."""
    if marker == _JFIF and body[:5] == b"JFIF\0" and len(body) >= 14:
        return body[:12] + b"\0\0"
    if marker == _ADOBE and body[:5] == b"Adobe" and len(body) >= 12:
        return body[:12]
    if marker == _ICC and body[:12] == b"ICC_PROFILE\0":
        return body
    return None if marker in _APPLICATION or marker == _COMMENT else body


def _orientation(body: bytes) -> int:
    """Return the orientation that Exif gives (CIPA DC-008, 4.6.5), 1 where it gives none that can be read."""
    tiff = body[6:]
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    if body[:6] != b"Exif\0\0" or order is None or len(tiff) < 8:
        return 1
    (first,) = struct.unpack_from(f"{order}I", tiff, 4)
    entries = tiff[first : first + 2]
    count = struct.unpack(f"{order}H", entries)[0] if len(entries) == 2 else 0
    for place in range(first + 2, first + 2 + 12 * count, 12):
        entry = tiff[place : place + 12]
        if len(entry) < 12:
            return 1
        tag, kind, many, value = struct.unpack(f"{order}HHIH", entry[:10])
        if (tag, kind, many) == (_ORIENTATION, 3, 1):
            return value if 1 <= value <= 8 else 1
    return 1


def _refused(source: str, what: str) -> InputError:
    return InputError(f"{source}: the picture {what}", "take or save it again, as an ordinary JPEG")
