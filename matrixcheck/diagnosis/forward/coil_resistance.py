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

SHORT_RATIO = 0.5
"""A winding of less than this part of its due resistance has shorted turns (common practice, no source)."""

SUPPLY_OHMS = 1.0
"""Transformer, bridge, wire and driver in series with a coil, at most (common practice, no source)."""

LEADS_OHMS = 0.5
"""Meter leads alone read so much at most (handbooks of meters; from memory)."""

LEAST_KELVIN = 10.0
"""A difference of temperature below this lies within the error of the meter (common practice, no source)."""

COLDEST_CELSIUS = 0.0
"""A coil measured in a cold shop is no colder than this (common practice, no source)."""

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
    """Say what was measured against what is due, and what that does to the coil.

    The current goes with 1/R on a supply without resistance of its own, and with less on a real one. Another winding on
    the same bobbin has turns that go with the root of R, so that its force, which goes with the square of current times
    turns, goes with 1/R as well. What leads or temperature may explain is said with it.
    """
    due = cell.notes.ohms
    found = at_20(ohms, celsius)
    measured_words = f"{figure(ohms)} ohms measured"
    if due is None:
        return f"{measured_words}; the layout gives no value"
    tolerance = f"{cell.notes.tolerance or USUAL_TOLERANCE:.0%}".replace("%", " %")
    against = f"{measured_words}; due {figure(due)} ±{tolerance} at 20 °C"
    if found <= 0 or found < SHORT_RATIO * due:
        return f"{against}. Shorted turns, or the lugs touch. Don't power it"
    if found > OPEN_RATIO * due:
        return f"{against}. Its winding or a lead is open"
    if not is_outside(cell, ohms, celsius):
        return f"{against}: good"
    effect = _too_strong(due, found) if found < due else _too_weak(due, found)
    excuses = _excuses(cell, ohms)
    return ". ".join(filter(None, (against, effect, f"Normal if {' or '.join(excuses)}" if excuses else "")))


def _too_strong(due: float, found: float) -> str:
    times = due / found
    least = max(1.0, found / due * ((due + SUPPLY_OHMS) / (found + SUPPLY_OHMS)) ** 2)
    kick = f"{figure(least)} to {figure(times)}" if figure(least) != figure(times) else figure(times)
    return (
        f"Draws up to {figure(times)} times the current and gets that much hotter. "
        f"Kicks about {kick} times as hard if wound on the same bobbin. Wears its driver"
    )


def _too_weak(due: float, found: float) -> str:
    return f"Weak: draws {figure(due / found)} of the current"


def _excuses(cell: Cell, ohms: float) -> list[str]:
    """Name what would bring a resistance back into its tolerance: the meter's leads, a warm coil, a cold shop."""
    due, found = cell.notes.ohms or 0.0, []
    over = ohms - due * (1 + (cell.notes.tolerance or USUAL_TOLERANCE))
    if 0 < over <= LEADS_OHMS:
        found.append("the leads weren't taken off")
    warm, cold = warm_enough(cell, ohms), cold_enough(cell, ohms)
    if warm is not None:
        found.append(f"the coil was at {warm:.0f} °C or more")
    if cold is not None:
        found.append(f"the coil was at {cold:.0f} °C or less")
    return found


def warm_enough(cell: Cell, ohms: float) -> float | None:
    """Return from how many degrees Celsius on the coil would be in order after all; None where that isn't likely.

    A few kelvins lie within the error of the meter, and say nothing.
    """
    due = cell.notes.ohms
    if due is None:
        return None
    celsius = _as_if_at(ohms, due * (1 + (cell.notes.tolerance or USUAL_TOLERANCE)))
    return celsius if REFERENCE_CELSIUS + LEAST_KELVIN <= celsius <= HOTTEST_CELSIUS else None


def cold_enough(cell: Cell, ohms: float) -> float | None:
    """Return up to how many degrees Celsius the coil would be in order after all; None where that isn't likely."""
    due = cell.notes.ohms
    if due is None:
        return None
    celsius = _as_if_at(ohms, due * (1 - (cell.notes.tolerance or USUAL_TOLERANCE)))
    return celsius if COLDEST_CELSIUS <= celsius <= REFERENCE_CELSIUS - LEAST_KELVIN else None


def _as_if_at(ohms: float, at_reference: float) -> float:
    """Return the degrees Celsius at which a coil of some ohms at 20 has others; the reference where it has none."""
    if at_reference <= 0:
        return REFERENCE_CELSIUS
    return REFERENCE_CELSIUS + (ohms / at_reference - 1) / COPPER_PER_KELVIN


def figure(value: float) -> str:
    """Write a number to two figures, without an exponent: 0.31, 1.8, 12, 150."""
    return f"{float(f'{value:.2g}'):g}" if value < 1e6 else f"{value:.0f}" if value < 1e12 else "endless"
