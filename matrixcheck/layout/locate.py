"""Where in a TOML file each key and list entry stands.

The standard library's reader gives values without their places, and it alone decides what is TOML: this scanner is
asked only when something has to be pointed out, and only about text which that reader has taken.
"""

from __future__ import annotations

import re
import tomllib
from typing import NamedTuple

from matrixcheck.layout.problems import Loc

_TOKEN = re.compile(
    r"""
    (?P<blank>[ \t\r]+|\#[^\n]*)
  | (?P<newline>\n)
  | (?P<text>\"{3}(?:[^\\]|\\.)*?\"{3}\"{0,2} | '{3}.*?'{3}'{0,2} | "(?:[^"\\\n]|\\.)*" | '[^'\n]*')
  | (?P<sign>[\[\]{},=.])
  | (?P<bare>[^\s\[\]{},=.\#"']+)
    """,
    re.VERBOSE | re.DOTALL,
)


class Position(NamedTuple):
    """A line and a column of a text, both counted from 1; the column in UTF-16 code units.

    Source of the unit: the Language Server Protocol 3.17, which has editors count so unless something else is agreed.
    """

    line: int
    column: int


def column_after(text: str) -> int:
    """Return the column, counted as in `Position`, of what follows this beginning of a line."""
    return len(text.encode("utf-16-le", errors="surrogatepass")) // 2 + 1


class _Token(NamedTuple):
    kind: str
    text: str
    at: Position


def positions(text: str) -> dict[Loc, Position]:
    """Return where every key, table header and list entry of a valid TOML text begins.

    Places are tuples of keys and of positions counted from 0. A table that several headers speak of stands at its
    first. Raises IndexError or KeyError for text that isn't TOML.
    """
    scanner = _Scanner(_tokens(text))
    scanner.document()
    return scanner.places


def line_numbers(text: str) -> dict[Loc, int]:
    """Return the line alone of every place that `positions` gives."""
    return {loc: at.line for loc, at in positions(text).items()}


def comments(text: str) -> list[str]:
    """Return the comments of a valid TOML text, each from its # to the end of its line, in their order."""
    found = (match[0] for match in _TOKEN.finditer(text) if match.lastgroup == "blank")
    return [comment.rstrip() for comment in found if comment.startswith("#")]


def position_of(loc: Loc, places: dict[Loc, Position]) -> Position:
    """Return the position of a place, or of the nearest thing around it that has one; the start for the whole file."""
    around = (loc[:depth] for depth in range(len(loc), 0, -1))
    return next((places[place] for place in around if place in places), Position(1, 1))


def line_of(loc: Loc, lines: dict[Loc, int]) -> int:
    """Return the line of a place, or of the nearest thing around it that has one; 1 for the whole file."""
    return next((lines[loc[:depth]] for depth in range(len(loc), 0, -1) if loc[:depth] in lines), 1)


def _tokens(text: str) -> list[_Token]:
    tokens, line, start = [], 1, 0
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup or ""
        if kind != "blank":
            tokens.append(_Token(kind, match[0], Position(line, column_after(text[start : match.start()]))))
        line += match[0].count("\n")
        if "\n" in match[0]:
            start = match.start() + match[0].rindex("\n") + 1
    tokens.append(_Token("end", "", Position(line, column_after(text[start:]))))
    return tokens


class _Scanner:
    """Walks the tokens once, from the top, and notes in `places` where everything begins."""

    def __init__(self, tokens: list[_Token]) -> None:
        self.places: dict[Loc, Position] = {}
        self._tokens = tokens
        self._at = 0
        self._counts: dict[Loc, int] = {}

    def document(self) -> None:
        table: Loc = ()
        while self._now.kind != "end":
            if self._now.kind == "newline":
                self._at += 1
            elif self._takes("["):
                table = self._header()
            else:
                self._pair(table)

    def _header(self) -> Loc:
        repeated = self._takes("[")
        at, keys = self._now.at, self._key()
        loc: Loc = ()
        for key in keys[:-1]:
            loc = self._entered((*loc, key), at)
        loc = (*loc, keys[-1])
        if repeated:
            self._counts[loc] = self._counts.get(loc, 0) + 1
        loc = self._entered(loc, at)
        self._skip("]")
        if repeated:
            self._skip("]")
        return loc

    def _entered(self, loc: Loc, at: Position) -> Loc:
        """Return a named table, or the last one of a list of tables; noted where it is new."""
        self.places.setdefault(loc, at)
        if loc in self._counts:
            loc = (*loc, self._counts[loc] - 1)
            self.places.setdefault(loc, at)
        return loc

    def _pair(self, table: Loc) -> None:
        at, keys = self._now.at, self._key()
        self._skip("=")
        loc = table
        for key in keys:
            loc = (*loc, key)
            self.places.setdefault(loc, at)
        self._value(loc)

    def _value(self, loc: Loc) -> None:
        if self._takes("["):
            self._list(loc)
        elif self._takes("{"):
            self._inline_table(loc)
        else:
            while self._now.kind in ("text", "bare") or self._now.text == ".":
                self._at += 1

    def _list(self, loc: Loc) -> None:
        position = 0
        while not self._takes("]"):
            if self._now.kind == "newline" or self._now.text == ",":
                self._at += 1
                continue
            self.places[*loc, position] = self._now.at
            self._value((*loc, position))
            position += 1

    def _inline_table(self, loc: Loc) -> None:
        while not self._takes("}"):
            if self._now.kind == "newline" or self._now.text == ",":
                self._at += 1
            else:
                self._pair(loc)

    def _key(self) -> list[str]:
        keys = [self._key_part()]
        while self._takes("."):
            keys.append(self._key_part())
        return keys

    def _key_part(self) -> str:
        token = self._now
        self._at += 1
        return next(iter(tomllib.loads(f"{token.text} = 0"))) if token.kind == "text" else token.text

    @property
    def _now(self) -> _Token:
        return self._tokens[self._at]

    def _takes(self, sign: str) -> bool:
        here = self._now.kind == "sign" and self._now.text == sign
        self._at += here
        return here

    def _skip(self, sign: str) -> None:
        if not self._takes(sign):
            raise KeyError(f"'{sign}' on line {self._now.at.line}")
