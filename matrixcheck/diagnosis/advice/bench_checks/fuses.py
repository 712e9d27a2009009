"""Propose checks of fuses: volts across them, taken out and measured, and what blew them."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    ABOUT_ZERO,
    GROUND,
    OPEN,
    OPEN_OHMS,
    Step,
    is_fed,
    is_string,
    placed,
)
from matrixcheck.diagnosis.result import Fault, Limits
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.wording import either


def fuse_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of a fuse; with what may have blown it, which confirms nothing and comes after."""
    yield _volts(layout, fault)
    yield _out(layout, fault)
    if any(layout.matrix(line.matrix).kind is not Kind.SWITCH for line in fault.lines):
        yield _short(layout, str(fault.part), ())


def grounded_behind_a_fuse(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the hunt for a short behind a fuse, which serves all lines that hang on it with the power off."""
    line = layout.line(fault.lines[0])
    fuses = [ref for ref in (*line.supply, *layout.matrix(fault.lines[0].matrix).supply) if part_class(ref) == "fuse"]
    between = {part_class(ref) for ref in line.path} & {"relay", "transistor", "integrated circuit"}
    if fuses and is_fed(layout, fault.lines[0]) and not between and line.when != "pulled":
        yield _short(layout, fuses[0], (fault,))


def _volts(layout: Layout, fault: Fault) -> Step:
    matrix = layout.matrix(fault.lines[0].matrix)
    fuses = _fuses_of(layout, matrix.id)
    due = f"{matrix.volts:g} V within {'10' if matrix.volts > 5 else '5'} %" if matrix.volts else "the volts due there"
    return Step(
        kind="rails and fuses",
        test="rails",
        at=(str(fault.part),),
        short=f"Measure the supply at its test point, then the volts across fuse {fault.part}.",
        do=f"Measure the supply at its test point. Then measure volts, DC and AC, across fuse "
        f"{placed(layout, str(fault.part))}."
        + (f" Go on with {either(fuses[1:], 'and')}." if len(fuses) > 1 and fuses[0] == fault.part else ""),
        points=(f"one cap of {fault.part}", f"the other cap of {fault.part}"),
        good=f"{due} at the test point, and about 0 V across the fuse",
        faulty="the full supply across the fuse: it is blown",
        between="No volts at the test point: the supply before the fuse is dead, or a door switch is open.",
        then="About 0 V across it: it conducts, or nothing feeds it.",
        power=True,
        hazard=cautions.Hazard.COIL_VOLTS if matrix.kind is Kind.COIL else cautions.Hazard.POWER_ON,
        confirms=(fault,),
    )


def _fuses_of(layout: Layout, matrix_id: str) -> list[str]:
    matrix = layout.matrix(matrix_id)
    refs = [*matrix.supply, *(ref for line in matrix.lines.values() for ref in line.supply)]
    return list(dict.fromkeys(ref for ref in refs if part_class(ref) == "fuse"))


def _out(layout: Layout, fault: Fault) -> Step:
    ref = str(fault.part)
    rating = layout.part_by_ref[ref].rating if ref in layout.part_by_ref else ""
    return Step(
        kind="fuse out",
        test="fuse",
        at=(ref,),
        short=f"Take fuse {ref} out, read its cap, and measure it.",
        do=f"Take fuse {placed(layout, ref)} out. Read the cap. Look at the clips. Measure the fuse.",
        points=(f"one cap of {ref}", f"the other cap of {ref}"),
        good=f"under 1 ohm, and the cap says {rating or 'what the label says'}",
        faulty="open, or another rating on the cap, or clips loose or brown",
        between="A fuse under 1 A may read a few ohms.",
        then="Find the short before a new one goes in. Fit the label's amps, T or F, volts and size.",
        hazard=cautions.Hazard.FUSE,
        limits=Limits(unit="ohms", good=(0, 1), faulty=((OPEN_OHMS, None),)),
        confirms=(fault,),
    )


def _short(layout: Layout, ref: str, confirms: tuple[Fault, ...]) -> Step:
    lines = layout.lines_through[ref]
    bulbs = " Take the bulbs behind it out." if any(is_string(layout, line) for line in lines) else ""
    return Step(
        kind="behind a fuse",
        test="short-behind",
        at=(ref,),
        short=f"Hunt the short behind fuse {ref}: pull plugs one by one until it is gone.",
        do=f"Take fuse {placed(layout, ref)} out.{bulbs} Measure from its load clip to ground. "
        "If it reads about zero, pull the plugs behind it one by one until that is gone.",
        points=(f"the load clip of {ref}", GROUND),
        good=f"{OPEN}, or the ohms of its load",
        faulty=f"{ABOUT_ZERO}, until one plug is off",
        between="The ohms of a coil: a shorted driver behind that coil.",
        then="The last plug pulled leads to the short. None found: a relay or driver hides it. Clip a bulb of that "
        "supply across the clips, power on: bright is the short.",
        hazard=cautions.Hazard.FUSE,
        limits=Limits(unit="ohms", good=(30, None), faulty=((0, 1),)),
        confirms=confirms,
    )
