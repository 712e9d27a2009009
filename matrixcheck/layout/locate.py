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


class _Token(NamedTuple):
    kind: str
    text: str
    line: int


def line_numbers(text: str) -> dict[Loc, int]:
    """Return the line, counted from 1, of every key, table header and list entry of a valid TOML text.

    Places are tuples of keys and of positions counted from 0. A table that several headers speak of stands at its
    first. Raises IndexError or KeyError for text that isn't TOML.
    """
    scanner = _Scanner(_tokens(text))
    scanner.document()
    return scanner.lines


def line_of(loc: Loc, lines: dict[Loc, int]) -> int:
    """Return the line of a place, or of the nearest thing around it that has one; 1 for the whole file."""
    return next((lines[loc[:depth]] for depth in range(len(loc), 0, -1) if loc[:depth] in lines), 1)


def _tokens(text: str) -> list[_Token]:
    tokens, line = [], 1
    for match in _TOKEN.finditer(text):
        kind = match.lastgroup or ""
        if kind != "blank":
            tokens.append(_Token(kind, match[0], line))
        line += match[0].count("\n")
    tokens.append(_Token("end", "", line))
    return tokens


class _Scanner:
    """Walks the tokens once, from the top, and notes in `lines` where everything begins."""

    def __init__(self, tokens: list[_Token]) -> None:
        self.lines: dict[Loc, int] = {}
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
        line, keys = self._now.line, self._key()
        loc: Loc = ()
        for key in keys[:-1]:
            loc = self._entered((*loc, key), line)
        loc = (*loc, keys[-1])
        if repeated:
            self._counts[loc] = self._counts.get(loc, 0) + 1
        loc = self._entered(loc, line)
        self._skip("]")
        if repeated:
            self._skip("]")
        return loc

    def _entered(self, loc: Loc, line: int) -> Loc:
        """Return a named table, or the last one of a list of tables; noted where it is new."""
        self.lines.setdefault(loc, line)
        if loc in self._counts:
            loc = (*loc, self._counts[loc] - 1)
            self.lines.setdefault(loc, line)
        return loc

    def _pair(self, table: Loc) -> None:
        line, keys = self._now.line, self._key()
        self._skip("=")
        loc = table
        for key in keys:
            loc = (*loc, key)
            self.lines.setdefault(loc, line)
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
            self.lines[*loc, position] = self._now.line
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
            raise KeyError(f"'{sign}' on line {self._now.line}")
