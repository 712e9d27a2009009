"""Pictures for tests, drawn from a seed; Pillow writes and reads them, which the program's own reader doesn't use."""

from __future__ import annotations

from io import BytesIO
from random import Random

from PIL import Image

MADE_BY = b"Harbour Camera 3"
PLACE_TAKEN = (51.5, 30.25, 12.0)
ORIENTATION, MAKE, GPS = 0x0112, 0x010F, 0x8825


def drawn(width: int = 48, height: int = 32, seed: int = 1) -> Image.Image:
    """A picture of coloured blocks."""
    random = Random(seed)
    small = Image.frombytes("RGB", (8, 8), random.randbytes(8 * 8 * 3))
    return small.resize((width, height), Image.Resampling.BICUBIC)


def noise(width: int, height: int) -> Image.Image:
    """A picture that no coding makes small."""
    return Image.frombytes("RGB", (width, height), Random(7).randbytes(width * height * 3))


def jpeg(picture: Image.Image | None = None, *, orientation: int = 0, camera: bool = False, **how: object) -> bytes:
    """A picture as JPEG; `camera` has it say who took it, where and with which thumbnail, as cameras do."""
    exif = Image.Exif()
    if orientation:
        exif[ORIENTATION] = orientation
    if camera:
        exif[MAKE] = MADE_BY.decode()
        exif[GPS] = {1: "N", 2: PLACE_TAKEN}
        how |= {"comment": b"taken at the pier"}
    into = BytesIO()
    (picture or drawn()).save(into, "JPEG", exif=exif.tobytes() if orientation or camera else b"", **how)
    return into.getvalue()


def dots(data: bytes) -> tuple[tuple[int, int], bytes]:
    """Size and dots of a JPEG, as Pillow decodes it and doesn't turn it."""
    with Image.open(BytesIO(data)) as picture:
        return picture.size, picture.convert("RGB").tobytes()


def segment(marker: int, body: bytes) -> bytes:
    """A segment of a JPEG."""
    return bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2) + body


def behind_the_start(data: bytes, *segments: bytes) -> bytes:
    """A JPEG with segments put in at its beginning."""
    return data[:2] + b"".join(segments) + data[2:]
