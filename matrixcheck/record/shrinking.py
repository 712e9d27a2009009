"""Pictures made smaller and set upright; this alone decodes them."""

from __future__ import annotations

from io import BytesIO

from PIL import Image, ImageOps

from matrixcheck.errors import InputError

_QUALITIES = (85, 75, 60, 40, 20)


def shrunk(jpeg: bytes, longest: int, largest: int, source: str) -> bytes:
    """Return a JPEG upright, its longer side at most `longest` dots and its file at most `largest` bytes.

    `source` names it in errors. Raises InputError where it can't be decoded, or gets no smaller.
    """
    try:
        with Image.open(BytesIO(jpeg), formats=["JPEG"]) as picture:
            colours = picture.info.get("icc_profile")
            # Decodes large ones at a fraction of their size, never below what is asked for.
            picture.draft(None, (longest, longest))
            upright = ImageOps.exif_transpose(picture)
            upright.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise InputError(f"{source}: the picture can't be decoded", "take or save it again") from error
    for quality in _QUALITIES:
        made = BytesIO()
        upright.save(made, "JPEG", quality=quality, icc_profile=colours)
        if made.tell() <= largest:
            return made.getvalue()
    raise InputError(f"{source}: the picture doesn't get smaller than {largest:,} bytes", "take another one")
