"""A workshop's own file of rates: it replaces the shipped values one by one (`priors.toml` lists them).

A file holds what the workshop knows better and nothing else. An unknown table or rate, and a value that can't be a
chance, is refused with its line.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isfinite
from pathlib import Path
from typing import Any

from matrixcheck.diagnosis.machine.priors import Rates, rates_in, shipped_table
from matrixcheck.errors import InputError
from matrixcheck.layout.problems import Flaw, Loc, Problem, nearest, shown
from matrixcheck.layout.toml_file import bytes_of, toml_in

WHAT = "rates"
LARGEST_FILE = 200_000
READING = "reading"
ABOVE_ZERO = (READING, "check")
"""Tables of which no rate is 0: nothing is ever ruled out for good."""
TOGETHER = (
    ("false echo", "false glow"),
    ("false echo", "false glow of an LED"),
    ("missed glow", "glow taken for light"),
    ("missed echo", "glow taken for light"),
    ("faint taken for dead", "faint taken for working"),
)
"""Chances of reading the same place wrongly in two ways: they leave room for reading it rightly."""


def read_rates(path: Path) -> Rates:
    """Read a file of rates. Raises InputError, with file and line, for a file that can't be taken as it stands."""
    return rates_of(bytes_of(path, WHAT, LARGEST_FILE), str(path))


def rates_of(data: bytes, source: str) -> Rates:
    """Give the rates that a file's bytes set, the shipped ones where they set none. Raises as `read_rates` does."""
    file = toml_in(data, source, WHAT)
    if isinstance(file, Problem):
        raise InputError(str(file), "fix that line")
    merged, flaws = _merged(shipped_table(), file.content, ())
    flaws = flaws or list(_impossible_together(merged, file.content))
    problems = file.located(flaws, source)
    if problems:
        more = f"; {len(problems) - 1} more" if len(problems) > 1 else ""
        raise InputError(f"{problems[0]}", f"fix that line{more}")
    return rates_in(merged)


def _merged(shipped: Mapping[str, Any], own: Mapping[str, Any], loc: Loc) -> tuple[dict[str, Any], list[Flaw]]:
    """Lay the workshop's values upon the shipped ones; list what of them can't be."""
    merged, flaws = dict(shipped), []
    for name, value in own.items():
        here = (*loc, name)
        known = shipped.get(name)
        if known is None:
            flaws.append(
                Flaw(
                    here,
                    "there is no such table of rates" if not loc else "there is no such rate",
                    nearest(name, shipped),
                )
            )
        elif isinstance(known, dict):
            if isinstance(value, dict):
                merged[name], more = _merged(known, value, here)
                flaws += more
            else:
                flaws.append(Flaw(here, f"is a table of rates, not {shown(value)}"))
        elif reason := _no_chance(value, within=here[0] in ABOVE_ZERO):
            flaws.append(Flaw(here, reason))
        else:
            merged[name] = float(value)
    return merged, flaws


def _no_chance(value: object, *, within: bool) -> str:
    """Say why a value can't be a chance; empty where it can. `within`: nor may it be 0."""
    least = "above 0" if within else "from 0"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"a rate is a number {least} and below 1, not {shown(value)}"
    if not isfinite(value) or not 0 <= value < 1 or (within and value == 0):
        return f"a rate is {least} and below 1, not {shown(value)}"
    return ""


def _impossible_together(merged: Mapping[str, Any], own: Mapping[str, Any]) -> Iterator[Flaw]:
    """Yield what leaves no room for a good cell or a right reading, at a value of the workshop's."""
    for sort, table in own.get("cell", {}).items():
        if sum(merged["cell"][sort].values()) >= 1:
            yield Flaw(("cell", sort, *list(table)[:1]), "the rates of a cell come to 1 or more: none would be good")
    of_reading, set_here = merged[READING], own.get(READING, {})
    for names in TOGETHER:
        if sum(of_reading[name] for name in names) >= 1 and (here := [name for name in names if name in set_here]):
            yield Flaw(
                (READING, here[0]), f"with {_other(names, here[0])!r} it comes to 1 or more: none would be right"
            )
    for name in ("wrong mark", "wrong answer"):
        if of_reading[name] * (1 + of_reading["wrongly faint"]) >= 1 and name in set_here:
            yield Flaw((READING, name), "with 'wrongly faint' it comes to 1 or more: none would be right")


def _other(names: tuple[str, str], one: str) -> str:
    return names[1] if names[0] == one else names[0]
