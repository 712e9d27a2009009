"""Figures and small phrases in words, the same on screen and on paper."""

from __future__ import annotations

import re
from datetime import datetime
from textwrap import wrap

from matrixcheck.record.summary import Coverage

_TIES = str.maketrans({"\N{NO-BREAK SPACE}": " ", "\N{NON-BREAKING HYPHEN}": "-"})
_TIED = re.compile(r" (?=%|more\b|min\b|·)|(?<=%) |-(?=\d)")
"""Where no line ends: a number stays with what follows it, a dot with what it ends, a pin with its plug."""


def lines_of(text: str, width: int, first: str = "", hang: str = "") -> list[str]:
    """Break a text at words into lines of at most `width` characters; `first` begins the first, `hang` the others."""
    if len(first) + len(text) <= width and text.isprintable() and text[-1:].strip():
        # Most texts of a screen fit as they are, and looking for the ends of lines is what takes long.
        return [(first + text).translate(_TIES)]
    tied = _TIED.sub(lambda found: "\N{NO-BREAK SPACE}" if found[0] == " " else "\N{NON-BREAKING HYPHEN}", text)
    return [line.translate(_TIES) for line in wrap(tied, width, initial_indent=first, subsequent_indent=hang)]


def moment(at: datetime) -> str:
    """Return a time to the minute, by the clock on the wall here."""
    return at.astimezone().strftime("%Y-%m-%d %H:%M")


def coverage_words(coverage: Coverage) -> str:
    """Say how far a matrix is tested, in one sentence piece that always names what is untested."""
    tested = coverage.total - coverage.untested
    return f"{tested} of {coverage.total} tested, {coverage.untested} untested"
