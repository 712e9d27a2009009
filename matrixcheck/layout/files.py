"""Reading layout files: the layout where all is well, else every problem with its line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pydantic import ValidationError

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.folder import layout_files_in
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.limits import LARGEST_LAYOUT
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import Flaw, Problem, key_of, nearest
from matrixcheck.layout.raw import Table
from matrixcheck.layout.rules import rule_flaws
from matrixcheck.layout.shape import shape_flaws
from matrixcheck.layout.shipped import shipped
from matrixcheck.layout.shorthand import spelt_out
from matrixcheck.layout.source import LayoutSource, source_of
from matrixcheck.layout.suspicions import warning_flaws
from matrixcheck.layout.toml_file import bytes_of, nests_too_deeply, toml_in

WHAT = "layout"
_Examined = tuple[Layout | None, tuple[Problem, ...]]


def read_layout(path: Path) -> Layout:
    """Return the layout in a file. Raises InputError with its first problem and the count of the others."""
    return _sound(_examined(bytes_of_layout(path), str(path)), f"run `matrixcheck layout check {path}`")


def bytes_of_layout(path: Path) -> bytes:
    """Return the bytes of a layout file. Raises InputError where it can't be read, or can be none."""
    return bytes_of(path, WHAT, LARGEST_LAYOUT)


def read_found(name_or_path: str, *, own: bool = True, folder: Path | None = None) -> tuple[Layout, LayoutSource]:
    """Return a layout by its name, or one's own by its path, and where it was read.

    Raises UsageError, InputError as `find_layout` and `read_layout`.
    """
    path = find_layout(name_or_path, own=own, folder=folder)
    data = bytes_of_layout(path)
    layout = _sound(_examined(data, str(path)), f"run `matrixcheck layout check {path}`")
    return layout, source_of(path, data)


def parse_layout(text: str, source: str) -> Layout:
    """Return the layout in a TOML text; `source` tells in messages where it comes from.

    Raises InputError as `read_layout`.
    """
    return _sound(_examined(text.encode(errors="surrogatepass"), source), "")


def layout_from(content: Any, source: str) -> Layout:
    """Return the layout that data with the keys of a layout file gives. Raises InputError as `read_layout`."""
    try:
        layout, flaws = _checked(content if isinstance(content, dict) else {})
    except RecursionError:
        raise InputError(f"{source} is not a layout: it nests too deeply") from None
    problems = tuple(Problem(source, None, key_of(flaw.loc), flaw.reason, flaw.nearest) for flaw in flaws)
    return _sound((layout, problems), "")


def check_layout(path: Path) -> tuple[Problem, ...]:
    """List every problem of a layout file, by line; none where it is sound.

    Raises InputError where it can't be read.
    """
    return _examined(bytes_of_layout(path), str(path))[1]


def look_over(path: Path) -> tuple[Problem, ...]:
    """List every problem of a layout file, by line, and what may be one: see `severity`.

    Raises InputError where it can't be read.
    """
    data = bytes_of_layout(path)
    problems = _examined(data, str(path))[1]
    file = toml_in(data, str(path), WHAT)
    if isinstance(file, Problem):
        return problems
    try:
        spelt = spelt_out(file.content)
        warnings = [flaw._replace(loc=spelt.origin(flaw.loc)) for flaw in warning_flaws(spelt.content)]
    except RecursionError:
        return problems
    found = [*problems, *file.located(dict.fromkeys(warnings), str(path))]
    return tuple(sorted(found, key=lambda problem: problem.line or 0))


def choosable(folder: Path | None = None) -> dict[str, Path]:
    """Return the files of the layouts that can be chosen by name.

    Shipped ones go by their own name, those of `folder` by the file's, with its ending: see `layout_files_in`.
    """
    return shipped() | ({} if folder is None else layout_files_in(folder))


def find_layout(name_or_path: str, *, own: bool = True, folder: Path | None = None) -> Path:
    """Find the file of a layout that is shipped or lies in `folder` by its name, or a file of one's own by its path.

    Without `own` no path is looked at, whatever is asked for. Raises UsageError for a name that can't be chosen,
    InputError for a path where there is no file.
    """
    ours = choosable(folder)
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


def _sound(examined: _Examined, advice: str) -> Layout:
    layout, problems = examined
    if layout is not None:
        return layout
    others = len(problems) - 1
    raise InputError(f"{problems[0]}; and {others} more", advice) if others else InputError(str(problems[0]))


def _examined(data: bytes, source: str) -> _Examined:
    """Return the layout, or every problem that keeps it from being one."""
    file = toml_in(data, source, WHAT)
    if isinstance(file, Problem):
        return None, (file,)
    try:
        layout, flaws = _checked(file.content)
    except RecursionError:
        return None, (nests_too_deeply(source, WHAT),)
    return layout, file.located(flaws, source)


def flaws_in(content: Table) -> list[Flaw]:
    """List what keeps the data of a layout file from being a layout.

    Raises RecursionError where it nests too deeply.
    """
    return _checked(content)[1]


def _checked(content: Table) -> tuple[Layout | None, list[Flaw]]:
    """Return the layout, or every flaw that keeps it from being one."""
    spelt = spelt_out(content)
    flaws = [*spelt.flaws, *rule_flaws(spelt.content)]
    try:
        layout = layout_in(spelt.content)
    except ValidationError as error:
        layout, flaws = None, [*flaws, *shape_flaws(error)]
    placed = [flaw._replace(loc=spelt.origin(flaw.loc)) for flaw in flaws]
    return (None, list(dict.fromkeys(placed))) if placed else (layout, [])
