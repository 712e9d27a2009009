"""A folder with layout files, of which nothing is opened that could stop the program."""

from __future__ import annotations

import os
from pathlib import Path

from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import LARGEST_LAYOUT

ENDING = ".toml"
MOST_FILES = 200


def layout_files_in(folder: Path) -> dict[str, Path]:
    """Return the layout files of a folder by their names, at most the first 200.

    Passed over, and never opened: folders in it, links, pipes, devices, hidden files, and what is too large for a
    layout. A folder that can't be read has none.
    """
    try:
        with os.scandir(folder) as entries:
            names = sorted(entry.name for entry in entries if _may_be_a_layout(entry))
    except OSError:
        return {}
    return {name: folder / name for name in names[:MOST_FILES]}


def checked_folder(folder: Path) -> Path:
    """Return the absolute path of a folder with layouts. Raises UsageError where it is none, or can't be read."""
    try:
        with os.scandir(folder):
            return folder.absolute()
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else "") or str(error)
        raise UsageError(f"the folder {str(folder)!r} can't be read: {reason}", "name one with layout files") from None


def _may_be_a_layout(entry: os.DirEntry[str]) -> bool:
    name = entry.name
    if not name.endswith(ENDING) or name.startswith(".") or not name.isprintable():
        return False
    try:
        return entry.is_file(follow_symlinks=False) and entry.stat(follow_symlinks=False).st_size <= LARGEST_LAYOUT
    except OSError:
        return False
