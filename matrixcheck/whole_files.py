"""Files that are written whole or not at all.

What is written goes into a fresh file beside its target first: a name that nobody can guess, made only where nothing
has it yet, so that no link laid there beforehand is followed. Then the fresh file takes the target's place.
"""

from __future__ import annotations

import os
import shutil
import stat
from contextlib import ExitStack
from pathlib import Path

from matrixcheck.errors import UsageError

PRIVATE, USUAL = 0o600, 0o666
FRESH = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)


def write_whole(path: Path, text: str) -> None:
    """Put a text in the place of what `path` holds, with its mode. Raises UsageError where that can't be."""
    with ExitStack() as waste:
        replace(drafted(path, text, waste), path)


def write_private(path: Path, text: str) -> None:
    """Put a text in the place of what `path` holds, for the owner's eyes only (mode 600). Raises as `write_whole`."""
    with ExitStack() as waste:
        replace(drafted(path, text, waste, private=True), path)


def check_target(path: Path) -> int | None:
    """Return the permission bits of the file at `path`, None where there is none.

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
        raise UsageError(f"{str(path)!r} is not a regular file", "name another, or - for standard output")
    if not os.access(path, os.W_OK):
        raise UsageError(f"{str(path)!r} may not be written", "make it writable, or name another file")
    return stat.S_IMODE(mode)


def drafted(path: Path, body: str | bytes, waste: ExitStack, *, private: bool = False) -> Path:
    """Write a text (as UTF-8) or bytes to a fresh file beside the target, with the mode of what it is to replace.

    A `private` one has mode 600. Returns that file.
    """
    kept = check_target(path)
    mode = PRIVATE if private else kept
    draft = _fresh(path)
    try:
        descriptor = os.open(draft, FRESH, USUAL if mode is None else PRIVATE)
        with os.fdopen(descriptor, "wb") as file:
            waste.callback(draft.unlink, missing_ok=True)
            if mode is not None:
                draft.chmod(mode)
            file.write(body.encode() if isinstance(body, str) else body)
            file.flush()
            os.fsync(file.fileno())
    except (OSError, ValueError) as error:
        raise _refused(path, error) from None
    return draft


def _fresh(path: Path) -> Path:
    return path.with_name(f".matrixcheck-{_unguessed()}")


def _unguessed() -> str:
    # Not `secrets`, whose other parts are half as long to import as all of the command line.
    return os.urandom(8).hex()


def spare_of(path: Path, waste: ExitStack) -> Path | None:
    """Make a second name for the file that is to be replaced; return it, None where there is no file yet.

    On disks that know no second names it is a copy.
    """
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


def replace(draft: Path, path: Path) -> None:
    """Let a draft take the place of its target. Raises UsageError where it can't."""
    try:
        draft.replace(path)
    except OSError as error:
        raise _refused(path, error) from None


def take_back(path: Path, spare: Path | None) -> None:
    """Put back what was replaced: the spare, or nothing where there was no file."""
    if spare is None:
        path.unlink(missing_ok=True)
    else:
        spare.replace(path)


def _refused(path: Path, error: OSError | ValueError) -> UsageError:
    reason = (error.strerror if isinstance(error, OSError) else "") or str(error)
    return UsageError(f"{str(path)!r}: {reason}", "name a file in a folder that you may write to")
