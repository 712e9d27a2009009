"""Join a driven and a sensed board pin of a switch matrix through a diode, as a closed switch would."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.advice.bench_checks.steps import board_pin, contact_of, is_sensed, plugs_of, pull_live
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.wording import cell_words, line_words


class AcrossTheSides(NamedTuple):
    """Where the diode goes: the sentences that set it up, its two pins, the plugs that are off, and what should show.

    `switch` is the one that the diode stands for, `other` the line of the other side.
    """

    prepare: str
    points: tuple[str, str]
    pins: str
    plugs: tuple[str, ...]
    switch: str
    other: str


def across_the_sides(layout: Layout, line: LineKey) -> AcrossTheSides | None:
    """Return how to stand in for a switch of the line with a diode; None where no switch joins it to a known pin."""
    found = _partner(layout, line)
    if found is None:
        return None
    other, cell = found
    driven = other if is_sensed(layout, line) else line
    prepare = (
        f"{pull_live(layout, line, other)} Clip a diode between the two board pins, band at "
        f"{contact_of(layout, driven) or line_words(layout, driven)}. Check twice that neither pin carries lamp or "
        "coil volts. Switch on."
    )
    points = (board_pin(layout, line), board_pin(layout, other))
    pins = " and ".join(contact_of(layout, key) or line_words(layout, key) for key in (line, other))
    return AcrossTheSides(
        prepare, points, pins, plugs_of(layout, line, other), cell_words(layout, cell.key), line_words(layout, other)
    )


def _partner(layout: Layout, line: LineKey) -> tuple[LineKey, Cell] | None:
    """Find a line of the other side, best one with a known pin, and the switch that joins it to this one."""
    cells = layout.matrix(line.matrix).cells_of(line)
    ways = [(cell.row_line if line.side == "column" else cell.column_line, cell) for cell in cells]
    known = [way for way in ways if contact_of(layout, way[0])]
    return next(iter(known or ways), None)
