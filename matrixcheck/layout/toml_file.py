"""TOML files that people write, with the line of whatever is wrong in them: layouts, and any other of our files.

Nothing here knows what a file should hold; `what` is what messages call it.
"""

from __future__ import annotations

import re
import stat
import tomllib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from matrixcheck.errors import InputError
from matrixcheck.layout.locate import Position, column_after, line_numbers, position_of, positions
from matrixcheck.layout.problems import Flaw, Loc, Problem, key_of

_AT_LINE = re.compile(r" \(at line (\d+), column (\d+)\)$")
_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'[^']*'|#.*")
_ENDLESS = re.compile(r"[0-9A-Fa-f_]{1000,}")


class TomlFile(NamedTuple):
    """The data of a TOML file, and its text."""

    content: dict[str, Any]
    text: str

    def lines(self) -> dict[Loc, int]:
        """Give the line of every key, table and list entry."""
        return line_numbers(self.text)

    def located(self, flaws: Iterable[Flaw], source: str) -> tuple[Problem, ...]:
        """Give flaws of the data as problems at lines of the file, in the order of the lines."""
        return tuple(sorted(self.problems(tuple(flaws), source), key=lambda problem: problem.line or 0))

    def problems(self, flaws: Sequence[Flaw], source: str) -> list[Problem]:
        """Give each flaw of the data as a problem at a line of the file, in the order of the flaws."""
        return [
            Problem(
                source, at.line if at else None, key_of(flaw.loc), flaw.reason, flaw.nearest,
                at.column if at else None, flaw.severity,
            )
            for flaw, at in zip(flaws, self._positions_of(flaws), strict=True)
        ]  # fmt: skip

    def _positions_of(self, flaws: Sequence[Flaw]) -> list[Position | None]:
        try:
            places = positions(self.text) if flaws else {}
        except RecursionError:
            # A text that was just shallow enough to be read may nest too deeply to be gone through once more.
            return [None] * len(flaws)
        return [position_of(flaw.loc, places) for flaw in flaws]


def bytes_of(path: Path, what: str, most: int) -> bytes:
    """Read a regular file of at most `most` bytes. Raises InputError where there is none, or it can't be read."""
    name = repr(str(path))
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError(f"{name} is a folder", f"name a {what} file in it")
        # A pipe would wait for its other end, and a device may act on being opened.
        if not stat.S_ISREG(mode):
            raise InputError(f"{name} is not a regular file", f"save the {what} in a file and name that")
        with path.open("rb") as stream:
            data = stream.read(most + 1)
    except FileNotFoundError as error:
        raise InputError(f"no file {name}", f"name a {what} file") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise InputError(f"{name} can't be read", str(reason).lower()) from error
    if len(data) > most:
        raise InputError(f"{name} is larger than {most / 1e6:g} MB", f"that is no {what} file")
    return data


def toml_in(data: bytes, source: str, what: str) -> TomlFile | Problem:
    """Read the bytes of a TOML file, or say what keeps them from being one."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        return Problem(source, line, "", "not UTF-8 text: save the file as UTF-8")
    try:
        return TomlFile(tomllib.loads(text), text)
    except tomllib.TOMLDecodeError as error:
        return _not_toml(error, text, source)
    except ValueError:
        found = _ENDLESS.search(text)
        line_ = text.count("\n", 0, found.start()) + 1 if found else None
        return Problem(source, line_, "", f"not a {what}: a number has too many digits")
    except RecursionError:
        return nests_too_deeply(source, what)


def nests_too_deeply(source: str, what: str) -> Problem:
    """Say that a file's lists and tables can't be followed."""
    return Problem(source, None, "", f"not a {what}: lists or tables nest too deeply")


def _not_toml(error: tomllib.TOMLDecodeError, text: str, source: str) -> Problem:
    reason = str(error)
    found = _AT_LINE.search(reason)
    line = int(found[1]) if found else text.count("\n") + 1
    column = f" at column {found[2]}" if found else " at the end of the file"
    reason = _AT_LINE.sub("", reason).removesuffix(" (at end of document)")
    before = text.split("\n")[line - 1][: int(found[2]) - 1] if found else ""
    at = column_after(before) if found else None
    opened = _left_open(text.splitlines()[:line]) if "nclosed" in reason else None
    if opened:
        return Problem(source, line, "", f"not TOML: line {opened} opens a [ that nothing closes", column=at)
    return Problem(source, line, "", f"not TOML: {reason[:1].lower()}{reason[1:]}{column}", column=at)


def _left_open(lines: Sequence[str]) -> int | None:
    """Return the last line, from 1, that opens more brackets within itself than it closes; None where there is none."""
    plain = [_QUOTED.sub("", line).rstrip() for line in lines[:-1]]
    opened = (line.count("[") > line.count("]") and not line.endswith("[") for line in plain)
    return max((at for at, open_ in enumerate(opened, 1) if open_), default=None)
