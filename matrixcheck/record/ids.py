"""Short ids of jobs: quick to type, hard to mistake."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown

# Digits and consonants that are not mistaken for one another on a screen or a label, and spell no words.
_LETTERS = "23456789bcdfghjkmnpqrstvwxz"
_LENGTH = 4


def short_ids(seed: str) -> Iterator[str]:
    """Yield short ids without end, the same for the same seed."""
    count = 0
    while True:
        number = int.from_bytes(hashlib.sha256(f"{seed}/{count}".encode()).digest())
        letters = []
        for _ in range(_LENGTH):
            number, place = divmod(number, len(_LETTERS))
            letters.append(_LETTERS[place])
        yield "".join(letters)
        count += 1


def job_meant(job: str, ids: Sequence[str], book: Path) -> str:
    """Return the one of `ids` that begins like `job`, in either case. Raises UsageError unless there is just one."""
    wanted = job.strip().lower()
    found = [one for one in ids if one.startswith(wanted)]
    if len(found) == 1 and wanted:
        return found[0]
    if not ids:
        raise UsageError(f"no job {shown(job)}: {book} holds none", "open one with `job new`")
    if found and wanted:
        raise UsageError(f"{shown(job)} could be any of {', '.join(found[:5])}", "type more of the id")
    raise UsageError(f"no job {shown(job)} in {book}", "`job list` shows the jobs there are")
