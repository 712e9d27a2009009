"""How results are printed: nothing that was typed steers the terminal, and what was kept is said even where standard
output can't be written."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from matrixcheck.errors import PrintError


def clean(text: str) -> str:
    """Return the text with blanks for what would steer a terminal; its lines stay."""
    from matrixcheck.layout.problems import visible

    return "\n".join(map(visible, text.split("\n")))


def say(text: str, end: str = "\n") -> None:
    """Print lines for people on standard output, on a terminal in colour."""
    said = clean(text)
    # What draws colours takes its time to load: a pipe needn't wait for it.
    if sys.stdout.isatty() or os.environ.get("FORCE_COLOR"):
        from matrixcheck.cli.colours import in_colour

        said = "\n".join(map(in_colour, said.split("\n")))
    print(said, end=end)


def say_kept(*lines: str) -> None:
    """Print what was kept, a line each. Raises PrintError where standard output can't be written."""
    with saying_kept(lines):
        for line in lines:
            say(" ".join(line.splitlines()))


@contextmanager
def saying_kept(lines: Sequence[str]) -> Iterator[None]:
    """Run a block that prints what was kept.

    Raises PrintError, which says it too, where standard output can't be written.
    """
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        kept = "; ".join(" ".join(line.split()) for line in lines)
        reason = error.strerror or str(error)
        raise PrintError(f"{kept} (standard output: {reason})", "it is in the book: don't enter it again") from None
