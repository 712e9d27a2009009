"""Files that a command writes: all of them whole, or none.

Each text goes into a fresh file beside its target first: a name that nobody can guess, made only where nothing has it
yet, so that no link laid there beforehand is followed. Then the fresh files take their targets' places.
"""

from __future__ import annotations

import os
import secrets
import shutil
import stat
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from matrixcheck.errors import UsageError

STANDARD_OUTPUT = "-"
PRIVATE, USUAL = 0o600, 0o666
FRESH = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)


class Output(NamedTuple):
    """A text for one place: a file, or standard output for `-`."""

    path: Path
    text: str


def hand_over(outputs: Sequence[Output]) -> None:
    """Write every output, or none of them. Raises UsageError, saying which can't be written and why."""
    shown = [output.text for output in outputs if str(output.path) == STANDARD_OUTPUT]
    files = [output for output in outputs if str(output.path) != STANDARD_OUTPUT]
    if len(shown) > 1:
        raise UsageError("two outputs for standard output", "give - once, and name files for the others")
    _refuse_same(files)
    with ExitStack() as waste, ExitStack() as undo:
        drafts = [_drafted(output, waste) for output in files]
        for text in shown:
            print_whole(text)
        for output, draft in zip(files, drafts, strict=True):
            spare = _spare(output.path, waste) if len(files) > 1 else None
            _replace(draft, output.path)
            undo.callback(_take_back, output.path, spare)
        undo.pop_all()


def print_whole(text: str) -> None:
    """Print a text for other programs on standard output, as UTF-8 whatever the terminal shows."""
    sys.stdout.flush()
    sys.stdout.buffer.write(text.encode(errors="backslashreplace"))
    sys.stdout.buffer.flush()


def check_target(path: Path) -> int | None:
    """The permission bits of the file at `path`, None where there is none.

    Raises UsageError for anything but a regular file that may be written.
    """
    try:
        mode = path.lstat().st_mode
    except FileNotFoundError:
        return None
    except (OSError, ValueError) as error:
        raise _refused(path, error) from None
    if stat.S_ISDIR(mode):
        raise UsageError(f"{str(path)!r} is a folder", "name a file in it")
    if stat.S_ISLNK(mode):
        raise UsageError(f"{str(path)!r} is a link", "name the file itself, or - for standard output")
    if not stat.S_ISREG(mode):
        raise UsageError(f"{str(path)!r} is no regular file", "name another, or - for standard output")
    if not os.access(path, os.W_OK):
        raise UsageError(f"{str(path)!r} may not be written", "make it writable, or name another file")
    return stat.S_IMODE(mode)


def _refuse_same(files: Sequence[Output]) -> None:
    places = [Path(os.path.abspath(output.path)) for output in files]  # noqa: PTH100 - keeps a link as it is
    for place, output in zip(places, files, strict=True):
        if places.count(place) > 1:
            raise UsageError(f"two outputs for {str(output.path)!r}", "name a file for each")


def _drafted(output: Output, waste: ExitStack) -> Path:
    """The text in a fresh file beside its target, with the mode of what it is to replace."""
    mode = check_target(output.path)
    draft = _fresh(output.path)
    try:
        descriptor = os.open(draft, FRESH, USUAL if mode is None else PRIVATE)
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="") as file:
            waste.callback(draft.unlink, missing_ok=True)
            if mode is not None:
                draft.chmod(mode)
            file.write(output.text)
            file.flush()
            os.fsync(file.fileno())
    except (OSError, ValueError) as error:
        raise _refused(output.path, error) from None
    return draft


def _fresh(path: Path) -> Path:
    return path.with_name(f".matrixcheck-{secrets.token_hex(8)}")


def _spare(path: Path, waste: ExitStack) -> Path | None:
    """A second name for the file that is to be replaced, or a copy on disks that know no second names; None where
    there is no file yet."""
    if not path.exists():
        return None
    spare = _fresh(path)
    waste.callback(spare.unlink, missing_ok=True)
    try:
        spare.hardlink_to(path)
    except OSError:
        try:
            shutil.copy2(path, spare)
        except OSError as error:
            raise _refused(path, error) from None
    return spare


def _replace(draft: Path, path: Path) -> None:
    try:
        draft.replace(path)
    except OSError as error:
        raise _refused(path, error) from None


def _take_back(path: Path, spare: Path | None) -> None:
    if spare is None:
        path.unlink(missing_ok=True)
    else:
        spare.replace(path)


def _refused(path: Path, error: OSError | ValueError) -> UsageError:
    reason = (error.strerror if isinstance(error, OSError) else "") or str(error)
    return UsageError(f"{str(path)!r}: {reason}", "name a file in a folder that you may write to")
