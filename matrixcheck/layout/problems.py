"""What can be wrong with a layout: a flaw at a place in its data, and a problem at a line of its file."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import Any, Literal, NamedTuple
from unicodedata import bidirectional, category

from msgspec import Struct

Loc = tuple[str | int, ...]
Severity = Literal["error", "warning"]
LONGEST_SHOWN = 40
STEERS = frozenset({"Cc", "Zl", "Zp"})
"""Unicode's categories of control characters and of what parts lines."""
HOLLOW = frozenset("\u115f\u1160\u2800\u3164\uffa0")
"""Letters and signs of Unicode that are drawn as nothing."""
TURNS = frozenset({"LRE", "RLE", "PDF", "LRO", "RLO", "LRI", "RLI", "FSI", "PDI"})
"""Unicode's bidirectional classes of what turns the direction of writing."""


class Flaw(NamedTuple):
    """Something wrong at `loc`: keys, and positions counted from 0, from the top of the layout's data inwards.

    `nearest` is what was probably meant, None where nothing comes near. A warning is of something that may be meant,
    but rarely is: the layout can be used.
    """

    loc: Loc
    reason: str
    nearest: str | None = None
    severity: Severity = "error"


class Problem(Struct, frozen=True):
    """Something wrong in a layout file.

    `path` is the file, `line` and `column` count from 1 (None where it has no line), the column in UTF-16 code units;
    `key` is written as in `matrix[2].column[3].path`, with positions counted from 1, and is empty where none is to
    blame.

    `str()` gives it in one line, `in_full` with the column and the severity as well.
    """

    path: str
    line: int | None
    key: str
    reason: str
    nearest: str | None = None
    column: int | None = None
    severity: Severity = "error"

    def __str__(self) -> str:
        place = self.path if self.line is None else f"{self.path}:{self.line}"
        return ": ".join(filter(None, (place, self.key, self.reason))) + self._meant

    @property
    def hint(self) -> str:
        """Return what was probably meant, "" where nothing comes near."""
        return f"did you mean '{self.nearest}'?" if self.nearest else ""

    @property
    def _meant(self) -> str:
        return f"; {self.hint}" if self.hint else ""

    def in_full(self) -> str:
        """Return it in one line, as compilers write theirs: FILE:LINE:COLUMN: severity: key: reason."""
        place = ":".join(str(part) for part in (self.path, self.line, self.column) if part is not None)
        return ": ".join(filter(None, (place, self.severity, self.key, self.reason))) + self._meant


def key_of(loc: Loc) -> str:
    """Return a place in the data as a person reads it: `matrix[2].column[3].path`, positions counted from 1."""
    steps = (f"[{step + 1}]" if isinstance(step, int) else f".{shown_key(step)}" for step in loc)
    return "".join(steps).removeprefix(".")


def shown_key(key: str) -> str:
    """Return a key as TOML writes it: bare where it can be, else quoted; shortened where it is long."""
    plain = key.isascii() and key.replace("-", "").replace("_", "").isalnum()
    return shortened(key) if plain else f'"{shortened(key)}"'


def shown(value: Any) -> str:
    """Return a value of a layout in a few words, for a message."""
    if isinstance(value, str):
        return f"'{shortened(value)}'"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    return "a list" if isinstance(value, list) else shortened(str(value))


def shortened(text: str) -> str:
    """Return the text with nothing invisible in it, cut where it is too long for a message."""
    if len(text) > LONGEST_SHOWN:
        text = f"{text[: LONGEST_SHOWN - 3]}..."
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in text)


def visible(text: str) -> str:
    """Return the text with blanks for what would steer a terminal.

    That is control characters, turns of the direction of writing.
    """
    return "".join(" " if category(sign) in STEERS or bidirectional(sign) in TURNS else sign for sign in text)


def is_seen(sign: str) -> bool:
    """Return whether a character is drawn by itself: a letter, a digit, a sign; no blank, no mark on another letter."""
    return category(sign)[0] in "LNPS" and sign not in HOLLOW


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that is spelt most like `word`, None where none comes near."""
    spelt = {name.casefold(): name for name in known}
    found = get_close_matches(word[:LONGEST_SHOWN].casefold(), spelt, n=1, cutoff=0.6)
    return spelt[found[0]] if found else None
