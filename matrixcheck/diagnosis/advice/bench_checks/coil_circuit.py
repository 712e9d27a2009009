"""Propose checks along a dead coil's circuit: feed, coil, wire, driver."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks.cautions import Hazard
from matrixcheck.diagnosis.advice.bench_checks.steps import Step, board_pin, contact_of, lug, setup_at
from matrixcheck.diagnosis.result import Fault
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.wording import cell_words


def driver_line(layout: Layout, cell: Cell) -> LineKey | None:
    """Return the line that drives a coil, None where the layout gives its driver no line."""
    key = cell.row_line
    return key if key in layout.matrix(key.matrix).lines else None


def volts_along(layout: Layout, cell: Cell, confirms: tuple[Fault, ...]) -> Step:
    """Measure volts at both lugs of a coil and at its driver: every part of the circuit is one of the outcomes."""
    named, line = cell_words(layout, cell.key), driver_line(layout, cell)
    pin = board_pin(layout, line) if line else "the board pin of its driver"
    return Step(
        kind="volts along a coil",
        test="volts",
        at=(cell.key,),
        short=f"Measure DC volts along {cell.device} {cell.number}: feed lug, driver lug, board pin.",
        do=f"Nothing fired, the side of {named} selected. Black lead on coil ground. Touch its feed lug, its "
        f"driver lug, and {pin} from the wire side.",
        points=(f"feed lug and driver lug of {named}, then {pin}", "coil ground"),
        good="the supply volts at all three",
        faulty="the volts are lost on the way",
        then="Good: driver or chip. Lost between the lugs: coil or series diode. Between lug and pin: wire or plug. "
        "None at the feed: fuse, feed, relay, door switch.",
        power=True,
        setup=setup_at(layout, [cell.key]),
        hazard=Hazard.COIL_VOLTS,
        confirms=confirms,
    )


def moved_wire(layout: Layout, cell: Cell, confirms: tuple[Fault, ...]) -> Iterator[Step]:
    """Yield the swap of two driver wires: what is the coil's stays, what is its driver's moves."""
    line = driver_line(layout, cell)
    if line is None or not contact_of(layout, line):
        return
    named = f"{cell.device} {cell.number}"
    yield Step(
        kind="move a wire",
        test="neighbour",
        at=(cell.key,),
        short=f"Swap the driver wires of {named} and of a like {cell.device}, and fire both.",
        prepare=f"Switch off. Swap the wire at {lug(layout, line, cell.key)} with that of a like one. Switch on.",
        do="Fire both. Then switch off and put both wires back.",
        points=(f"the driver wire of {named}", f"that of a like {cell.device}"),
        good=f"{named} stays dead",
        faulty=f"{named} fires, and the other one doesn't",
        then=f"Good: the {cell.device}. Faulty: its wire, plug, driver or chip. Not while any driver may be shorted.",
        power=True,
        setup=setup_at(layout, [cell.key]),
        hazard=Hazard.COIL_VOLTS,
        confirms=confirms,
    )
