"""Propose checks of plugs and their contacts."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import LOOSE, STEADY, TIGHT, Step, contact_of, kind_of, placed
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import LineKey

_STOP = "On another header, or one pin off, stop: check all fuses, and that nothing there is shorted, before power."


def connector_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of a plug that is off or misplaced, or of one contact of it."""
    if fault.fault is FaultClass.PLUGS_SWAPPED:
        yield _two_plugs(layout, fault)
        return
    if owner(str(fault.part)) == fault.part:
        yield _look(layout, fault)
        return
    yield _tug(layout, fault)
    yield _contact(layout, fault)
    yield _joints(layout, fault)


def _look(layout: Layout, fault: Fault) -> Step:
    plug = str(fault.part)
    halves = "both halves of " if in_the_loom(layout, plug, fault.lines) else ""
    return Step(
        kind="look at a plug",
        test="plug",
        at=(plug,),
        short=f"Look at plug {plug}: wire colours, a free pin, and whether it is home.",
        do=f"Look at {halves}plug {placed(layout, plug)}. Compare its wire colours with the layout. Look for a free "
        f"pin at either end, and for the key. {_STOP} Else pull it, look into it, and push it home twice.",
        points=(f"plug {plug}", "its other half" if halves else "its header on the board"),
        good="the colours agree, no pin is left over, and it clicks home",
        faulty="it is off, askew, one pin aside or on another header, or its colours differ",
        then="It clicked home only now: test its lines again.",
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _two_plugs(layout: Layout, fault: Fault) -> Step:
    one, other = str(fault.part), str(fault.other)
    return Step(
        kind="look at a plug",
        test="plugs",
        at=(one, other),
        short=f"Compare the wire colours at plugs {one} and {other} with the layout.",
        do=f"Look at plug {placed(layout, one)} and plug {placed(layout, other)}. Compare the wire colours of both "
        f"with the layout. Look for free pins, and for the key. {_STOP}",
        points=(f"plug {one}", f"plug {other}"),
        good="the colours of both agree",
        faulty="the colours of each are those that the layout gives for the other",
        then="The colours agree and the readings don't: doubt the layout.",
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _tug(layout: Layout, fault: Fault) -> Step:
    plug = owner(str(fault.part))
    return Step(
        kind="reseat and tug",
        test="tug",
        at=(plug,),
        short=f"Take plug {plug} off and on three times, and tug its wires.",
        do=f"Take plug {placed(layout, plug)} off and on three times. Pull each wire with two fingers.",
        points=(f"plug {plug}", "each of its wires"),
        good="every wire holds, and the plug grips its pins",
        faulty="a wire or contact comes out, or a contact doesn't grip",
        then="Test its lines again. A fault that goes away isn't repaired: renew the contact.",
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _contact(layout: Layout, fault: Fault) -> Step:
    ref, plug = str(fault.part), owner(str(fault.part))
    mid = in_the_loom(layout, plug, fault.lines)
    points = (f"the solder joint of the pin of {ref}", f"the wire behind {ref}")
    return Step(
        kind="contact",
        test="contact",
        at=(ref,),
        short=f"Look at contact {ref} for a burnt, spread or pushed-back pin; measure through it.",
        do=f"Pull plug {placed(layout, plug)}. Look at {ref}: brown, spread, pushed back, its wire half out. Push the "
        "plug home and measure while you move it.",
        points=(f"the wire before {ref}", f"the wire behind {ref}") if mid else points,
        good=STEADY,
        faulty=LOOSE,
        then="Renew contact and pin: a burnt pin ruins a new contact."
        + ("" if mid else " Look at the solder joint for a ring."),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=TIGHT,
        confirms=(fault,),
    )


def _joints(layout: Layout, fault: Fault) -> Step:
    plug = owner(str(fault.part))
    return Step(
        kind="header joints",
        test="joints",
        at=(plug,),
        short=f"Take the board out, and look at the solder joints of header {plug} through a lens.",
        do=f"Take out the board of plug {placed(layout, plug)}. Look at the solder side of its header through a lens. "
        "Press each pin sideways.",
        points=(f"the pins of header {plug}", "their solder joints"),
        good="every joint is bright and whole, and no pin moves",
        faulty="a dark ring around a pin, or a pin that moves",
        then="Solder the whole row anew.",
        hazard=cautions.Hazard.COIL_SUPPLY,
        setup="board out",
        confirms=(fault,),
    )


def in_the_loom(layout: Layout, plug: str, lines: tuple[LineKey, ...]) -> bool:
    """Return whether a plug joins two wires: another one stands before it on a line's path."""
    contacts = [contact for line in lines if (contact := contact_of(layout, line))]
    return any(owner(contact) != plug for contact in contacts)
