"""Propose checks of wires: open, broken, grounded, shorted together, crossed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.fuses import grounded_behind_a_fuse
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    ABOUT_ZERO,
    APART,
    GROUND,
    JUMPS,
    LOOSE,
    OPEN,
    STEADY,
    TIGHT,
    ZERO_OHMS,
    Step,
    behind,
    contact_of,
    first_lug,
    is_string,
    kind_of,
    lug,
    plugs_of,
    pull,
    quiet,
    setup_at,
    setup_of,
    wire,
)
from matrixcheck.diagnosis.result import Fault, FaultClass, Limits
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.wording import line_words

_DEAD = Limits(unit="ohms", good=(0, ZERO_OHMS), faulty=((100, None),))
"""A switch line works through less than some 100 ohms, lamps and coils lose light or force from 1 ohm on."""
_WEAK = "1 to 100 ohms: repair it, but go on. A switch line isn't dead from that."
_MENDED = "Renew the joint, not only the wire: look above all at hinges and cable ties."


def line_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks for each member that is a wire."""
    for fault in members:
        if fault.fault in _STEPS and (fault.fault is not FaultClass.OPEN or fault.part is None):
            yield from _STEPS[fault.fault](layout, fault)


def _first_wire(layout: Layout, fault: Fault) -> Iterator[Step]:
    line, kind = fault.lines[0], kind_of(layout, fault)
    switch = kind is Kind.SWITCH
    yield Step(
        kind="first wire",
        test="wire",
        at=(line,),
        short=f"Pull the plug, and measure the wire of {line_words(layout, line)} to its first device.",
        prepare=pull(layout, line),
        do=f"Measure {wire(layout, line)} to its first device while you move the loom.",
        points=(behind(layout, line), first_lug(layout, line)),
        good=STEADY,
        faulty=JUMPS if switch else LOOSE,
        between=_WEAK if switch else "",
        then=_MENDED,
        setup=setup_of(layout, line),
        plugs=plugs_of(layout, line),
        hazard=cautions.off(kind),
        limits=_DEAD if switch else TIGHT,
        confirms=(fault,),
    )


def _break(layout: Layout, fault: Fault) -> Iterator[Step]:
    line = fault.lines[0]
    if is_string(layout, line):
        yield _volts_along_a_string(layout, fault)
    elif layout.line(line).chain is None:
        yield _sweep(layout, fault)
    else:
        yield _from_lug_to_lug(layout, fault)


def _ends(layout: Layout, fault: Fault) -> tuple[CellKey, CellKey]:
    order = [cell.key for cell in layout.matrix(fault.lines[0].matrix).cells_of(fault.lines[0])]
    after = fault.after or 1
    return order[after - 1], order[after]


def _from_lug_to_lug(layout: Layout, fault: Fault) -> Step:
    line, ends = fault.lines[0], _ends(layout, fault)
    switch = kind_of(layout, fault) is Kind.SWITCH
    return Step(
        kind="across the break",
        test="break",
        at=(line, str(fault.after)),
        short=f"Measure the wire of {line_words(layout, line)} {_from_to(layout, ends)}, and tug it.",
        prepare=_no_way_round(layout, line),
        do=f"Tug {wire(layout, line)} at both lugs. Measure from lug to lug while you move it.",
        points=(lug(layout, line, ends[0]), lug(layout, line, ends[1])),
        good=STEADY,
        faulty=JUMPS if switch else LOOSE,
        between=_WEAK if switch else "",
        then=_MENDED,
        setup=setup_at(layout, ends),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=_DEAD if switch else TIGHT,
        confirms=(fault,),
    )


def _no_way_round(layout: Layout, line: LineKey) -> str:
    """Word what to open where no diodes part the lines: closed switches would lead round a break."""
    matrix = layout.matrix(line.matrix)
    return quiet(layout, line).strip() if matrix.kind is Kind.SWITCH and not matrix.has_diodes else ""


def _from_to(layout: Layout, ends: tuple[CellKey, CellKey]) -> str:
    first, second = (layout.cell(cell) for cell in ends)
    return f"from {first.device} {first.number} to {second.device} {second.number}"


def _sweep(layout: Layout, fault: Fault) -> Step:
    """Check every device of a line whose chain nobody knows: one sweep finds a break wherever it is."""
    line = fault.lines[0]
    switch = kind_of(layout, fault) is Kind.SWITCH
    contact = contact_of(layout, line)
    start = f"contact {contact}" if contact else "its wire at the plug"
    return Step(
        kind="across the break",
        test="break",
        at=(line,),
        short=f"Follow the wire of {line_words(layout, line)} from lug to lug until it is open.",
        prepare=f"{pull(layout, line)} {_no_way_round(layout, line)}".strip(),
        do=f"Clip one lead to {start}. Touch the {line.side} lug of each device in turn. Tug the wire at each.",
        points=(behind(layout, line), f"the {line.side} lug of each device of {line_words(layout, line)}"),
        good=STEADY,
        faulty=f"{JUMPS if switch else LOOSE}, from some device on",
        between=_WEAK if switch else "",
        then="The break lies between the last good lug and the first bad one.",
        setup=setup_of(layout, line),
        plugs=plugs_of(layout, line),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=_DEAD if switch else TIGHT,
        confirms=(fault,),
    )


def _volts_along_a_string(layout: Layout, fault: Fault) -> Step:
    """Check by volts: a string's bulbs join feed and return on both sides of a break, which hides it from ohms."""
    line = fault.lines[0]
    named = line_words(layout, line)
    known = layout.line(line).chain is not None
    ends = _ends(layout, fault) if known else None
    points = (
        (lug(layout, line, ends[0]), lug(layout, line, ends[1]))
        if ends
        else (f"the feed lug of each lamp of {named}", "the return")
    )
    return Step(
        kind="volts along a string",
        test="break",
        at=(line, str(fault.after)) if known else (line,),
        short=f"Light {named}, and measure volts {_from_to(layout, ends) if ends else 'from socket to socket'}.",
        do=f"Light {named}. Measure volts, AC and DC, from each feed lug to the return.",
        points=points,
        good="the same volts at both" if known else "the same volts at all",
        faulty="volts at the first, none at the second" if known else "volts at some, none at the others",
        then="The break lies between the last lug with volts and the first without.",
        power=True,
        setup=setup_of(layout, line),
        hazard=cautions.on(Kind.LAMP),
        confirms=(fault,),
    )


def _grounded(layout: Layout, fault: Fault) -> Iterator[Step]:
    line, kind = fault.lines[0], kind_of(layout, fault)
    pulled = (line, *_behind_coils(layout, line))
    between = {
        Kind.SWITCH: "10 ohms to 10 kilohms: a leak, or a switch that isn't open.",
        Kind.COIL: "3 to 30 ohms: a shorted driver behind that coil. Climbing slowly: a capacitor, wait.",
        Kind.LAMP: "10 ohms to 10 kilohms: a leak.",
    }
    yield Step(
        kind="string to ground" if is_string(layout, line) else "wire to ground",
        test="ground",
        at=(line,),
        short=f"Pull the plug, and measure the wire of {line_words(layout, line)} to ground.",
        prepare=f"{pull(layout, *pulled)}{quiet(layout, line)}",
        do=f"Measure {wire(layout, line)} to ground.",
        points=(behind(layout, line), GROUND),
        good=OPEN,
        faulty=ABOUT_ZERO,
        between=between[kind],
        then="Faulty: look where the wire crosses metal.",
        setup="playfield up" if quiet(layout, line) else "",
        plugs=plugs_of(layout, *pulled),
        hazard=cautions.held_on(kind),
        limits=APART,
        confirms=(fault,),
    )
    yield from grounded_behind_a_fuse(layout, fault)


def _shorted(layout: Layout, fault: Fault) -> Iterator[Step]:
    first, second = fault.lines
    if _joined_by_coils(layout, first):
        yield _touching(layout, fault)
        return
    pulled = (first, second, *_behind_coils(layout, first))
    series = _in_series(layout, first)
    yield Step(
        kind="two strings" if is_string(layout, first) else "two wires",
        test="short",
        at=(first, second.address),
        short=f"Pull the plugs, and measure {line_words(layout, first)} against {line_words(layout, second)}.",
        prepare=f"{pull(layout, *pulled)}{quiet(layout, first, second)}",
        do="Measure wire to wire.",
        points=(behind(layout, first), behind(layout, second)),
        good=f"{OPEN}{', or the ohms of two coils in series' if series else ''}",
        faulty=ABOUT_ZERO,
        then="Faulty: look where both wires run together, and at both plugs for a strand.",
        setup="playfield up" if quiet(layout, first) else "",
        plugs=plugs_of(layout, *pulled),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=Limits(unit="ohms", good=(4, None), faulty=((0, ZERO_OHMS),)) if series else APART,
        confirms=(fault,),
    )


def _in_series(layout: Layout, line: LineKey) -> bool:
    """Return whether coils join the lines of one side: there are no series diodes."""
    matrix = layout.matrix(line.matrix)
    return matrix.kind is Kind.COIL and not matrix.has_diodes


def _joined_by_coils(layout: Layout, line: LineKey) -> bool:
    """Return whether a line feeds coils without series diodes, which join it to the other feeds."""
    return _in_series(layout, line) and line.side == "column"


def _touching(layout: Layout, fault: Fault) -> Step:
    """Check by eye: two feeds of a bank without series diodes read about zero through their coils."""
    first, second = fault.lines
    return Step(
        kind="two wires",
        test="short",
        at=(first, second.address),
        short=f"Look along the wires of {line_words(layout, first)} and {line_words(layout, second)} for bare copper.",
        prepare=pull(layout, first, second),
        do="Look along both wires from plug to coils. No meter: it reads the coils between.",
        points=(behind(layout, first), behind(layout, second)),
        good="each is whole and touches nothing",
        faulty="bare copper of the one touches the other",
        setup="playfield up",
        plugs=plugs_of(layout, first, second),
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _behind_coils(layout: Layout, line: LineKey) -> tuple[LineKey, ...]:
    """Return the lines with a plug at the other ends of a coil line's coils.

    Through these a meter would read their board.
    """
    matrix = layout.matrix(line.matrix)
    if matrix.kind is not Kind.COIL:
        return ()
    return tuple(key for key in matrix.lines if key.side != line.side and contact_of(layout, key))


def _crossed(layout: Layout, fault: Fault) -> Iterator[Step]:
    first, second = fault.lines
    yield _colours(layout, fault)
    if _joined_by_coils(layout, first):
        return
    pulled = (first, second, *_behind_coils(layout, first))
    series = _in_series(layout, first)
    yield Step(
        kind="wire to the other line",
        test="crossed",
        at=(first, second.address),
        short=f"Pull the plugs, and measure from {_plug_end(layout, first)} to {line_words(layout, second)}.",
        prepare=f"{pull(layout, *pulled)}{quiet(layout, first, second)}",
        do="Measure from the one plug to the other line's first device.",
        points=(behind(layout, first), first_lug(layout, second)),
        good=f"{OPEN}{', or the ohms of two coils in series' if series else ''}",
        faulty=ABOUT_ZERO,
        then=f"Faulty: the wire leads to {line_words(layout, second)}. Colours right at both ends: doubt the layout.",
        setup="playfield up",
        plugs=plugs_of(layout, *pulled),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=Limits(unit="ohms", good=(4, None), faulty=((0, ZERO_OHMS),)) if series else APART,
        confirms=(fault,),
    )


def _plug_end(layout: Layout, line: LineKey) -> str:
    contact = contact_of(layout, line)
    return f"contact {contact}" if contact else f"the plug of {line_words(layout, line)}"


def _colours(layout: Layout, fault: Fault) -> Step:
    """Check by eye first; where coils join two feeds it is the only way, as they read the same on a meter."""
    first, second = fault.lines
    return Step(
        kind="wire colours",
        test="colours",
        at=(first, second.address),
        short=f"Compare the wire colours of {line_words(layout, first)} and {line_words(layout, second)} at both ends.",
        do="Compare the colours of both wires with the layout, at the plug and at the first device.",
        points=(f"{_plug_end(layout, first)}, then {_plug_end(layout, second)}", "the first device of each"),
        good=f"each wire leads to its own line: {line_words(layout, first)}, {line_words(layout, second)}",
        faulty="each leads to the other line",
        then="Several lines of the same plugs are crossed: suspect that the plugs sit in each other's place.",
        setup="playfield up",
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )


_STEPS: dict[FaultClass, Callable[[Layout, Fault], Iterator[Step]]] = {
    FaultClass.OPEN: _first_wire,
    FaultClass.BREAK: _break,
    FaultClass.GROUNDED: _grounded,
    FaultClass.SHORTED_TOGETHER: _shorted,
    FaultClass.CROSSED: _crossed,
}
