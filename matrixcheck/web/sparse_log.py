"""What the server logs: a line a minute at most, whatever is sent to it."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import TextIO

SECONDS_BETWEEN = 60.0
LONGEST = 200


class SparseLog(logging.Handler):
    """Write a record as one line without its traceback; those of the minute after it are counted in the next line."""

    def __init__(self, out: TextIO, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(logging.WARNING)
        self._out = out
        self._clock = clock
        self._next = clock()
        self._left_out = 0

    def emit(self, record: logging.LogRecord) -> None:
        """Write or count a record. Where nothing can be written to, it is lost: the pages go on."""
        now = self._clock()
        if now < self._next:
            self._left_out += 1
            return
        self._next = now + SECONDS_BETWEEN
        more = f" ({self._left_out} more since the last line)" if self._left_out else ""
        self._left_out = 0
        try:
            self._out.write(f"{line_of(record)}{more}\n")
            self._out.flush()
        except (OSError, ValueError):
            return


def line_of(record: logging.LogRecord) -> str:
    """Say a record in one line that no terminal takes for orders."""
    said = record.getMessage().partition("\n")[0]
    cause = record.exc_info[1] if record.exc_info else None
    if cause is not None:
        said += f": {type(cause).__name__}: {cause}"
    return "".join(sign if sign.isprintable() else " " for sign in said[:LONGEST])
