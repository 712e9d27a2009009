"""Where a job's layout was read."""

from __future__ import annotations

import hashlib
from pathlib import Path

from matrixcheck.layout.frozen import Frozen
from matrixcheck.layout.shipped import is_shipped, shipped


class LayoutSource(Frozen, frozen=True, kw_only=True):
    """Where a job's layout was read: the path of a file, or the name of a layout that comes with the program.

    `digest` is the SHA-256 of the file's bytes, in hexadecimal. Both are "" where nobody knows.
    """

    file: str = ""
    digest: str = ""


UNKNOWN = LayoutSource()


def digest_of(data: bytes) -> str:
    """Return the SHA-256 of bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def source_of(path: Path, data: bytes) -> LayoutSource:
    """Return the source of a layout with these bytes; one that comes with the program goes by its name."""
    whole = path.resolve()
    return LayoutSource(file=whole.stem if is_shipped(whole) else str(whole), digest=digest_of(data))


def path_of(source: LayoutSource) -> Path | None:
    """Return the file of a source, None where nobody knows it. It need not be there any more."""
    if not source.file:
        return None
    return shipped().get(source.file) or Path(source.file)
