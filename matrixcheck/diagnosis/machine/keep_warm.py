"""LEDs on keep-warm resistors: lamps that glow on the standing current alone and are no fault of their driver.

A flash lamp may carry a resistor that always passes a small current, so that its filament stays warm and lasts longer.
An LED in place of the filament is lit by that current (common practice, no source).
"""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Cell, Layout, Matrix

FORWARD_DROPS = (1.8, 3.4)
"""Least and largest voltage that one LED drops, in volts: red to white (common practice, no source). The layout doesn't
say which is fitted, so that figures are worked out for both."""

VISIBLE_AMPERES = 0.0001
"""From this standing current on an LED is seen to glow in a dark room (common practice, no source)."""


class Glow(NamedTuple):
    """An LED on a keep-warm resistor, and its standing current in amperes: least and largest over the LEDs in use."""

    cell: Cell
    least: float
    largest: float

    @property
    def visible(self) -> bool:
        """Return whether, whatever LED is fitted, it is seen to glow with its driver off."""
        return self.least >= VISIBLE_AMPERES


def standing_current(volts: float, ohms: float, forward_drop: float) -> float:
    """Return the amperes through an LED of that forward drop, in volts, behind a resistor, in ohms.

    Ohm's law over what the LED leaves of the supply; 0 where the supply doesn't reach its forward drop.
    """
    return max(0.0, volts - forward_drop) / ohms


def glows(matrix: Matrix) -> tuple[Glow, ...]:
    """List every LED on a keep-warm resistor in the matrix, by number."""
    least, largest = FORWARD_DROPS
    return tuple(
        Glow(cell, standing_current(warm.volts, warm.ohms, largest), standing_current(warm.volts, warm.ohms, least))
        for cell in matrix.fitted
        if cell.notes.fitted == "led" and (warm := cell.notes.keep_warm) is not None
    )


def glow_faults(layout: Layout) -> tuple[Fault, ...]:
    """Return for each matrix with LEDs that keep-warm resistors light all of them together as one cause."""
    found = []
    for matrix in layout.matrices:
        cells = sorted(glow.cell.key for glow in glows(matrix) if glow.visible)
        if cells:
            found.append(Fault(fault=FaultClass.KEEP_WARM_GLOW, cells=tuple(cells)))
    return tuple(found)


def current_words(matrix: Matrix) -> str:
    """Say the standing current of the matrix's keep-warm LEDs, as in "up to about 65 mA": that through a bare LED.

    LEDs made to replace bulbs carry resistors of their own, which no layout gives, and pass less.
    """
    currents = [current for glow in glows(matrix) if glow.visible for current in (glow.least, glow.largest)]
    if not currents:
        return "no current worth naming"
    low, high = min(currents), max(currents)
    most = (low + high) / 2 if high <= 1.2 * low else high
    return f"up to about {milliamperes(most)}, less with a resistor inside"


def milliamperes(amperes: float) -> str:
    """Write a current in milliamperes, to two figures."""
    return f"{float(f'{amperes * 1000:.2g}'):g} mA"
