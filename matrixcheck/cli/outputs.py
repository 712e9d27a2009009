"""Files that a command writes: all of them whole, or none."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.whole_files import drafted, replace, spare_of, take_back

STANDARD_OUTPUT = "-"


class Output(NamedTuple):
    """A text, or bytes, for one place: a file, or standard output for `-`."""

    path: Path
    body: str | bytes


def hand_over(outputs: Sequence[Output]) -> None:
    """Write every output, or none of them. Raises UsageError, saying which can't be written and why."""
    shown = [output.body for output in outputs if str(output.path) == STANDARD_OUTPUT]
    files = [output for output in outputs if str(output.path) != STANDARD_OUTPUT]
    if len(shown) > 1:
        raise UsageError("two outputs for standard output", "give - once, and name files for the others")
    _refuse_same(files)
    with ExitStack() as waste, ExitStack() as undo:
        drafts = [drafted(output.path, output.body, waste) for output in files]
        for body in shown:
            print_whole(body)
        for output, draft in zip(files, drafts, strict=True):
            spare = spare_of(output.path, waste) if len(files) > 1 else None
            replace(draft, output.path)
            undo.callback(take_back, output.path, spare)
        undo.pop_all()


def print_whole(body: str | bytes) -> None:
    """Print for other programs on standard output: a text as UTF-8 whatever the terminal shows, or bytes."""
    sys.stdout.flush()
    sys.stdout.buffer.write(body.encode(errors="backslashreplace") if isinstance(body, str) else body)
    sys.stdout.buffer.flush()


def _refuse_same(files: Sequence[Output]) -> None:
    places = [Path(os.path.abspath(output.path)) for output in files]  # noqa: PTH100 - keeps a link as it is
    for place, output in zip(places, files, strict=True):
        if places.count(place) > 1:
            raise UsageError(f"two outputs for {str(output.path)!r}", "name a file for each")
