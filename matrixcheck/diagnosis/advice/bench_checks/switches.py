"""Propose checks of one switch: contacts or light beam, its diode, what keeps it closed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import OPEN, Step, setup_at
from matrixcheck.diagnosis.result import Fault, FaultClass, Limits
from matrixcheck.layout.model import Cell, Kind, Layout
from matrixcheck.layout.wording import cell_words

_BEAM = re.compile(r"\b(beam|opto\w*|optical|infrared)\b", re.IGNORECASE)


def is_beam(cell: Cell) -> bool:
    """Return whether a switch is a light beam by its name: the layout has no other word for it."""
    return cell.device == "switch" and _BEAM.search(cell.name) is not None


def switch_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of a switch that doesn't answer, or that stays closed."""
    cell = layout.cell(fault.cells[0])
    if is_beam(cell):
        yield _beam(layout, cell, fault)
    elif fault.fault is FaultClass.DEVICE_STUCK:
        yield _stuck(layout, cell, fault)
    else:
        yield _contacts(layout, cell, fault)
        if cell.notes.rest != "closed":
            yield _bridged(layout, cell, fault)


def through_contacts_and_diode(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the best single test of a switch with a diode: through both at once, each outcome naming one fault."""
    cell = layout.cell(fault.cells[0])
    if is_beam(cell) or not layout.matrix(cell.key.matrix).has_diodes:
        return
    closed = cell.notes.rest == "closed"
    named = cell_words(layout, cell.key)
    shut, apart = ("at rest", "actuated") if closed else ("pressed", "released")
    yield Step(
        kind="switch contacts",
        test="switch",
        at=(cell.key,),
        short=f"Make a diode test through contacts and diode of switch {cell.number}, {shut} and {apart}.",
        do=f"Diode test, both ways, through contacts and diode of {named}: {shut}, then {apart}.",
        points=(f"the lug of {named} where the column wire arrives", "its lug where the row wire arrives"),
        good=f"{shut} 0.4 to 0.8 V one way and OL the other; {apart} OL both ways",
        faulty=f"{shut} OL or over 0.9 V both ways, under 0.1 V, or the other way than its neighbour",
        then="OL: contacts, diode or a joint; measure each. Under 0.1 V: the diode is shorted. The other way: it is "
        "reversed. Over 0.9 V is the board beside them.",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(Kind.SWITCH),
        limits=Limits(unit="volts", good=(0.4, 0.8), faulty=((0, 0.1), (0.9, None)), both_ways=True),
        decides=True,
        confirms=(fault,),
    )


def _contacts(layout: Layout, cell: Cell, fault: Fault) -> Step:
    closed = cell.notes.rest == "closed"
    named = cell_words(layout, cell.key)
    lugs = "common and closed lug" if closed else "common and open lug"
    beam = " For a light beam, look at its sender and receiver instead." if closed else ""
    return Step(
        kind="switch contacts",
        test="contacts",
        at=(cell.key,),
        short=f"Clean switch {cell.number}, measure its contacts {'at rest and actuated' if closed else 'pressed'}.",
        do=f"Clean {named}. Measure across its contacts, {'at rest, then actuated' if closed else 'and press it'}.",
        points=(f"the common lug of {named}", f"its {'closed' if closed else 'open'} lug"),
        good="about zero at rest, open when actuated" if closed else "open, and under 5 ohms when pressed",
        faulty="the same at rest and actuated" if closed else "still open when pressed",
        between=f"5 ohms to 10 kilohms between {lugs}: dirt. Clean it again.",
        then=f"Good: its own wires and joints.{beam}",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(Kind.SWITCH),
        limits=None if closed else Limits(unit="ohms", good=(0, 5), faulty=((10_000, None),)),
        confirms=(fault,),
    )


def _bridged(layout: Layout, cell: Cell, fault: Fault) -> Step:
    named = cell_words(layout, cell.key)
    fuse = " Take the coil fuse out." if any(matrix.kind is Kind.COIL for matrix in layout.matrices) else ""
    return Step(
        kind="bridge a switch",
        test="bridge",
        at=(cell.key,),
        short=f"Bridge the two lugs of switch {cell.number} in the switch test.",
        prepare=f"Switch off.{fuse} Clip a lead to each lug of the contacts. Switch on.",
        do=f"Switch test. Press {named}, then touch the two leads together.",
        points=(f"one lug of the contacts of {named}", "the other lug"),
        good="pressing it shows it, as bridging does; or neither does",
        faulty="it shows when bridged, not when pressed",
        then="Neither shows it: diode, wire or board.",
        power=True,
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.Hazard.NEXT_TO_COILS if fuse else cautions.Hazard.POWER_ON,
        confirms=(fault,),
    )


def _beam(layout: Layout, cell: Cell, fault: Fault) -> Step:
    named = cell_words(layout, cell.key)
    return Step(
        kind="light beam",
        test="beam",
        at=(cell.key,),
        short=f"Wipe the light beam of switch {cell.number}, look at its sender, and block it.",
        do=f"Wipe sender and receiver of {named}. Measure the supply at the sender, 5 or 12 V. Look at it through a "
        "phone camera: most senders glow there. Block the beam with a card.",
        points=("the output of the receiver", "ground"),
        good="the output flips when you block the beam",
        faulty="the output stays as it is",
        then="Faulty with a glowing sender: the receiver, or its aim. No glow with supply: the sender.",
        power=True,
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.Hazard.POWER_ON,
        confirms=(fault,),
    )


def _stuck(layout: Layout, cell: Cell, fault: Fault) -> Step:
    closed = cell.notes.rest == "closed"
    named = cell_words(layout, cell.key)
    how = "while you actuate it: it rests closed" if closed else "not pressed"
    return Step(
        kind="stuck switch",
        test="stuck",
        at=(cell.key,),
        short=f"Look at switch {cell.number} for a ball, a bent blade or a blob; measure its contacts.",
        do=f"Look at {named}: ball, bent blade, solder blob, wire on the frame. Take one wire off and measure "
        f"across the contacts, {how}.",
        points=(f"one lug of the contacts of {named}", "the other lug"),
        good=OPEN,
        faulty="less than 10 kilohms",
        then="Good: look at its wires, and at what else closes the same place.",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(Kind.SWITCH),
        limits=Limits(unit="ohms", good=(10_000, None), faulty=((0, 10_000),)),
        confirms=(fault,),
    )
