"""Propose checks of one coil: dead, stuck on, or of another value than is due."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.coil_circuit import volts_along
from matrixcheck.diagnosis.advice.bench_checks.lamps import off_the_driver
from matrixcheck.diagnosis.advice.bench_checks.steps import GROUND, Step, kind_of, setup_at
from matrixcheck.diagnosis.forward.coil_resistance import USUAL_TOLERANCE, figure
from matrixcheck.diagnosis.result import Fault, Limits
from matrixcheck.layout.model import Layout
from matrixcheck.layout.wording import cell_words


def dead_coil(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of a coil that doesn't fire: its ohms, then the volts along its circuit.

    Where no diodes part the coils, an open one reads the others in place: one lead comes off.
    """
    cell = layout.cell(fault.cells[0])
    named, ohms = cell_words(layout, cell.key), cell.notes.ohms
    tolerance = cell.notes.tolerance or USUAL_TOLERANCE
    limits = ohms and Limits(
        unit="ohms",
        good=(round(ohms * (1 - tolerance), 3), round(ohms * (1 + tolerance), 3)),
        faulty=((0, round(ohms / 2, 3)), (round(ohms * 2, 3), None)),
    )
    alone = not layout.matrix(cell.key.matrix).has_diodes
    yield Step(
        kind="coil, a lead off" if alone else "device across its lugs",
        test="coil",
        at=(cell.key,),
        short=f"Measure coil {cell.number} across its lugs, {'one lead off' if alone else 'in place'}.",
        do=f"{'Take one lead off. ' if alone else ''}Measure {named} across its lugs, the meter's leads taken off.",
        points=(f"one lug of {named}", "its other lug"),
        good=f"{figure(ohms)} ohms, {tolerance * 100:g} % more or less" if ohms else "within 10 % of a like coil",
        faulty="over twice that, or under half of it",
        between="In between: another coil may be fitted. Read the part number on its wrapper."
        if alone
        else "Low: take one lead off and measure again. Something may lie in parallel.",
        then="High or open: look for a lead that is off its lug. Low: shorted turns. Under 2 ohms: don't power it.",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=limits or None,
        confirms=(fault,),
    )
    yield volts_along(layout, cell, (fault,))


def stuck_coil(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the check of a coil that stays on by itself."""
    yield off_the_driver(
        layout,
        fault,
        kind="wire off a coil",
        do=f"Take the own wire of {cell_words(layout, fault.cells[0])} off its driver-side lug.",
        other=f"{GROUND}, then the coil's own bracket",
    )


def wrong_value(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the check of a coil whose resistance is out of tolerance."""
    cell = layout.cell(fault.cells[0])
    named, ohms = cell_words(layout, cell.key), cell.notes.ohms
    tolerance = cell.notes.tolerance or USUAL_TOLERANCE
    due = f"{figure(ohms)} ohms ±{tolerance * 100:g} %" if ohms else "its value"
    least = round(ohms * (1 - tolerance), 3) if ohms else 0.0
    most = round(ohms * (1 + tolerance), 3) if ohms else None
    yield Step(
        kind="coil value",
        test="value",
        at=(cell.key,),
        short=f"Read the part number of coil {cell.number}, let it cool, and measure it again.",
        do=f"Read the part number on the wrapper of {named}. Let it cool to room temperature. Take one lead off, zero "
        "the leads, and measure again.",
        points=(f"one lug of {named}", "its other lug"),
        good=f"within {due}",
        faulty=f"still outside {due}, or a part number of another coil",
        then="Under half of it: shorted turns, or the lugs touch. Don't power it.",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=Limits(unit="ohms", good=(least, most), faulty=((0, least), (most, None))) if ohms and most else None,
        confirms=(fault,),
    )
