"""What stands at the head of a row or column, as a manual prints it: number, wire, plug contact, driver."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.layout.designators import CONNECTORS, part_class
from matrixcheck.layout.model import Line

DRIVERS = ("transistor", "integrated circuit")
"""What drives or senses a line, nearest to its wire first."""


class LineHead(NamedTuple):
    """The head of one line: its number or letter, and `facts`, one a piece; none of them where nothing is known."""

    label: str
    facts: tuple[str, ...]


def line_head(line: Line) -> LineHead:
    """Return the head of a line, with nothing but what the layout says of it."""
    contacts = " ".join(ref for ref in line.path if ref[0] in CONNECTORS)
    relay = f"{line.select} {'at rest' if line.when == 'rest' else 'pulled in'}" if line.select else ""
    name = line.name if line.name != line.label else ""
    facts = (line.wire or "", contacts, _driver(line.path), " ".join(line.supply), relay, name)
    return LineHead(line.label or line.name, tuple(filter(None, facts)))


def _driver(path: Sequence[str]) -> str:
    found = {part_class(ref): ref for ref in path}
    return next((found[kind] for kind in DRIVERS if kind in found), "")
