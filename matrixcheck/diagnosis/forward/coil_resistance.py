"""Coil readings: a resistance brought to 20 degrees Celsius, set against the layout's, and what a deviation does."""

from __future__ import annotations

from collections.abc import Iterable

from msgspec.structs import replace

from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

COPPER_PER_KELVIN = 0.00393
"""Temperature coefficient of resistance of annealed copper at 20 degrees Celsius, per kelvin (IEC 60028)."""

REFERENCE_CELSIUS = 20.0

USUAL_TOLERANCE = 0.1
"""Of a coil whose layout gives a resistance and no tolerance, as a fraction (common practice, no source)."""

OPEN_RATIO = 20.0
"""A winding of this many times its due resistance conducts no more worth the name (common practice, no source)."""

SHORT_RATIO = 0.001
"""A winding of so little of its due resistance is a short (common practice, no source)."""

HOTTEST_CELSIUS = 100.0
"""A coil measured after use is no hotter than this (common practice, no source)."""


def at_20(ohms: float, celsius: float) -> float:
    """Return a copper coil's resistance at 20 degrees Celsius, from `ohms` measured at `celsius` (IEC 60028)."""
    return ohms / (1 + COPPER_PER_KELVIN * (celsius - REFERENCE_CELSIUS))


def brought_to_20(readings: Iterable[Reading], celsius: float) -> tuple[Reading, ...]:
    """Return the readings with every resistance, measured at `celsius`, as it would be at 20 degrees Celsius."""
    return tuple(
        reading if reading.ohms is None else replace(reading, ohms=at_20(reading.ohms, celsius)) for reading in readings
    )


def measured(readings: Iterable[Reading]) -> dict[CellKey, float]:
    """Return the last resistance that was measured at each cell, in ohms."""
    return {reading.cell: reading.ohms for reading in readings if reading.cell is not None and reading.ohms is not None}


def is_outside(cell: Cell, ohms: float, celsius: float = REFERENCE_CELSIUS) -> bool:
    """Return whether a resistance measured at the cell is out of its tolerance; never where the layout gives none."""
    due = cell.notes.ohms
    if due is None:
        return False
    tolerance = cell.notes.tolerance or USUAL_TOLERANCE
    return abs(at_20(ohms, celsius) - due) > tolerance * due * (1 + 1e-9)


def wrong_ohms(cell: Cell) -> float | None:
    """Return a resistance that a wrong coil at that place might have, in ohms.

    It lies as far again below the tolerance as that reaches, so that the coil kicks too hard; None where the layout
    gives no value to be wrong by.
    """
    due = cell.notes.ohms
    return None if due is None else round(max(due * (1 - 2 * (cell.notes.tolerance or USUAL_TOLERANCE)), 0.0), 3)


def coil_faults(layout: Layout, readings: Iterable[Reading], celsius: float = REFERENCE_CELSIUS) -> tuple[Fault, ...]:
    """Return a wrong device at each cell whose last measured resistance is out of tolerance.

    `celsius` is the coils' temperature when they were measured.
    """
    return tuple(
        Fault(fault=FaultClass.WRONG_DEVICE, cells=(key,))
        for key, ohms in sorted(measured(readings).items())
        if is_outside(layout.cell(key), ohms, celsius)
    )


def sound_coils(layout: Layout, readings: Iterable[Reading]) -> frozenset[CellKey]:
    """Return the coils whose last measured resistance is within tolerance."""
    found = {key: (layout.cell(key), ohms) for key, ohms in measured(readings).items()}
    due = {key for key, (cell, _) in found.items() if cell.notes.ohms is not None}
    return frozenset(key for key in due if not is_outside(*found[key]))


def deviation_words(cell: Cell, ohms: float, celsius: float = REFERENCE_CELSIUS) -> str:
    """Say what was measured against what is due, and what that does to the kick at the given supply.

    The current goes with 1/R and the force of the kick with the square of the current.
    """
    due = cell.notes.ohms
    found = at_20(ohms, celsius)
    if due is None:
        return f"{figure(found)} ohms at 20 °C; the layout gives no value"
    tolerance = cell.notes.tolerance or USUAL_TOLERANCE
    against = f"{figure(found)} ohms at 20 °C where {figure(due)} ±{tolerance:.0%} is due".replace("%", " %")
    if found <= 0 or found < SHORT_RATIO * due:
        return f"{against}: a short, which takes its fuse or its driver with it"
    if found > OPEN_RATIO * due:
        return f"{against}: its winding or a lead is open"
    if not is_outside(cell, ohms, celsius):
        return f"{against}: in order"
    current = due / found
    effect = f"draws {figure(current)}x the current, kicks {figure(current**2)}x as hard"
    warm = warm_enough(cell, ohms)
    return f"{against}: {effect}" + (f", unless it was at {warm:.0f} °C when measured" if warm is not None else "")


def warm_enough(cell: Cell, ohms: float) -> float | None:
    """Return from how many degrees Celsius the coil would be in order after all; None where that isn't likely."""
    due = cell.notes.ohms
    if due is None:
        return None
    largest = due * (1 + (cell.notes.tolerance or USUAL_TOLERANCE))
    celsius = REFERENCE_CELSIUS + (ohms / largest - 1) / COPPER_PER_KELVIN
    return celsius if REFERENCE_CELSIUS < celsius <= HOTTEST_CELSIUS else None


def figure(value: float) -> str:
    """Write a number to two figures, without an exponent: 0.31, 1.8, 12, 150."""
    return f"{float(f'{value:.2g}'):g}" if value < 1e6 else f"{value:.0f}" if value < 1e12 else "endless"
