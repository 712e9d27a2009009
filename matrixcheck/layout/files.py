"""Reading layout files: the layout where all is well, else every problem with its line; and finding shipped layouts."""

from __future__ import annotations

import re
import stat
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.locate import line_numbers, line_of
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import Flaw, Problem, key_of, nearest
from matrixcheck.layout.raw import Table
from matrixcheck.layout.rules import rule_flaws
from matrixcheck.layout.shape import shape_flaws

LARGEST_FILE = 2_000_000
_AT_LINE = re.compile(r" \(at line (\d+), column (\d+)\)$")
_ENDLESS = re.compile(r"[0-9A-Fa-f_]{1000,}")
_Examined = tuple[Layout | None, tuple[Problem, ...]]


def read_layout(path: Path) -> Layout:
    """The layout in a file. Raises InputError with its first problem and the count of the others."""
    return _sound(_examined(_bytes_of(path), str(path)), f"run `matrixcheck layout check {path}`")


def parse_layout(text: str, source: str) -> Layout:
    """The layout in a TOML text; `source` tells in messages where it comes from. Raises InputError as `read_layout`."""
    return _sound(_examined(text.encode(errors="surrogatepass"), source), "")


def layout_from(content: Any, source: str) -> Layout:
    """The layout that data with the keys of a layout file gives. Raises InputError as `read_layout`."""
    try:
        layout, flaws = _checked(content if isinstance(content, dict) else {})
    except RecursionError:
        raise InputError(f"{source} is no layout: it nests too deeply") from None
    problems = tuple(Problem(source, None, key_of(flaw.loc), *flaw[1:]) for flaw in flaws)
    return _sound((layout, problems), "")


def check_layout(path: Path) -> tuple[Problem, ...]:
    """Every problem of a layout file, by line; none where it is sound. Raises InputError where it can't be read."""
    return _examined(_bytes_of(path), str(path))[1]


def shipped() -> dict[str, Path]:
    """The layouts that come with the program, by name: within the installed package, or beside it in a checkout."""
    package = Path(str(files("matrixcheck")))
    homes = (package / "layouts", package.parent / "layouts")
    home = next((home for home in homes if (home / "layout.schema.json").is_file()), package)
    return {path.stem: path for path in sorted(home.glob("*.toml"))}


def find_layout(name_or_path: str, *, own: bool = True) -> Path:
    """Find the file of a shipped layout by its name, or a file of one's own by its path.

    Without `own` no path is looked at, whatever is asked for. Raises UsageError for a name that isn't shipped,
    InputError for a path where there is no file.
    """
    ours = shipped()
    if name_or_path in ours:
        return ours[name_or_path]
    if not own:
        raise _unknown(name_or_path, ours, "name one of")
    path = Path(name_or_path)
    try:
        there = name_or_path != "" and path.exists()
    except (OSError, ValueError):
        there = False
    if there:
        return path
    if path.name != name_or_path or path.suffix:
        raise InputError(f"no file {name_or_path!r}", "name a layout file")
    raise _unknown(name_or_path, ours, "name a file, or one of")


def _unknown(name: str, ours: dict[str, Path], advice: str) -> UsageError:
    meant = nearest(name, ours)
    return UsageError(f"no layout {name!r}", f"did you mean '{meant}'?" if meant else f"{advice} {', '.join(ours)}")


def _bytes_of(path: Path) -> bytes:
    name = repr(str(path))
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise InputError(f"{name} is a folder", "name a layout file in it")
        # A pipe would wait for its other end, and a device may act on being opened.
        if not stat.S_ISREG(mode):
            raise InputError(f"{name} is not a regular file", "save the layout in a file and name that")
        with path.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except FileNotFoundError as error:
        raise InputError(f"no file {name}", "name a layout file") from error
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else error
        raise InputError(f"{name} can't be read", str(reason).lower()) from error
    if len(data) > LARGEST_FILE:
        raise InputError(f"{name} is larger than 2 MB", "that is no layout file")
    return data


def _sound(examined: _Examined, advice: str) -> Layout:
    layout, problems = examined
    if layout is not None:
        return layout
    others = len(problems) - 1
    raise InputError(f"{problems[0]}; and {others} more", advice) if others else InputError(str(problems[0]))


def _examined(data: bytes, source: str) -> _Examined:
    """The layout, or every problem that keeps it from being one."""
    try:
        return _judged(data.decode("utf-8-sig"), source)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        return None, (Problem(source, line, "", "not UTF-8 text: save the file as UTF-8"),)
    except RecursionError:
        return None, (Problem(source, None, "", "not a layout: lists or tables nest too deeply"),)


def _judged(text: str, source: str) -> _Examined:
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return None, (_not_toml(error, text, source),)
    except ValueError:
        found = _ENDLESS.search(text)
        line = text.count("\n", 0, found.start()) + 1 if found else None
        return None, (Problem(source, line, "", "not a layout: a number has too many digits"),)
    layout, flaws = _checked(content)
    return layout, _located(flaws, text, source) if flaws else ()


def _checked(content: Table) -> tuple[Layout | None, list[Flaw]]:
    """The layout, or every flaw that keeps it from being one."""
    flaws = list(rule_flaws(content))
    try:
        layout = layout_in(content)
    except ValidationError as error:
        return None, [*flaws, *shape_flaws(error)]
    return (None, flaws) if flaws else (layout, [])


def _not_toml(error: tomllib.TOMLDecodeError, text: str, source: str) -> Problem:
    reason = str(error)
    found = _AT_LINE.search(reason)
    line = int(found[1]) if found else text.count("\n") + 1
    column = f" at column {found[2]}" if found else " at the end of the file"
    reason = _AT_LINE.sub("", reason).removesuffix(" (at end of document)")
    return Problem(source, line, "", f"not TOML: {reason[:1].lower()}{reason[1:]}{column}")


def _located(flaws: list[Flaw], text: str, source: str) -> tuple[Problem, ...]:
    lines = line_numbers(text)
    problems = [Problem(source, line_of(flaw.loc, lines), key_of(flaw.loc), *flaw[1:]) for flaw in flaws]
    return tuple(sorted(problems, key=lambda problem: problem.line or 0))
