"""Bench checks of parts: plugs and their contacts, fuses, transistors, chips, relays."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis import cautions
from matrixcheck.diagnosis.check_step import CONTINUITY, OPEN_CIRCUIT, Step, contact_of, is_sensed, kind_of, unplug
from matrixcheck.diagnosis.names import line_words, lines_words, part_words
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey

_Stepper = Callable[[Layout, Fault], Iterator[Step]]


def part_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """What tells of each member that is a part, and what tells the board from the loom."""
    for fault in members:
        if fault.fault is FaultClass.OPEN and fault.part is not None:
            yield from _BY_CLASS.get(part_class(fault.part), _across)(layout, fault)
        elif fault.fault in _BY_FAULT:
            yield from _BY_FAULT[fault.fault](layout, fault)
    yield from _board_or_loom(layout, members)


def _plug(layout: Layout, fault: Fault) -> Iterator[Step]:
    yield Step(
        effort="look at a plug",
        do=f"Look at plug {_placed(layout, str(fault.part))} and push it home.",
        points=(f"plug {fault.part}", "its header on the board"),
        expect="it is off, askew, one pin aside or on another header, or its wire colours aren't those of the layout",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _fuse(layout: Layout, fault: Fault) -> Iterator[Step]:
    rating = layout.part_by_ref[str(fault.part)].rating if fault.part in layout.part_by_ref else ""
    yield Step(
        effort="fuse out",
        do=f"Take fuse {_placed(layout, str(fault.part))} out and measure it; look at its holder"
        + (f". It should read {rating} on the cap." if rating else "."),
        points=(f"one cap of {fault.part}", f"the other cap of {fault.part}"),
        expect="no continuity",
        caution=cautions.before_a_fuse(),
        confirms=(fault,),
    )


def _contact(layout: Layout, fault: Fault) -> Iterator[Step]:
    if owner(str(fault.part)) == fault.part:
        yield from _plug(layout, fault)
        return
    yield Step(
        effort="contact",
        do=f"Look for a burnt, spread or pushed-back pin at {fault.part}; measure through it, the plug pushed home.",
        points=(f"the board pin of {fault.part}", f"the wire behind {fault.part}"),
        expect=OPEN_CIRCUIT,
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _transistor(layout: Layout, fault: Fault) -> Iterator[Step]:
    yield _junctions(
        layout, fault, "a junction that conducts neither way, or readings unlike those of a like transistor"
    )


def _junctions(layout: Layout, fault: Fault, expect: str) -> Step:
    return Step(
        effort="transistor",
        do=f"Diode test on {_placed(layout, str(fault.part))}, both ways; compare it with a like transistor beside it.",
        points=(f"base or gate of {fault.part}", f"its collector or drain, then its emitter or source ({fault.part})"),
        expect=expect,
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _chip(layout: Layout, fault: Fault) -> Iterator[Step]:
    ref, lines = str(fault.part), fault.lines
    whole = owner(ref) == ref
    if whole:
        expect = f"supply and inputs are there, but no output of {ref} moves"
    elif is_sensed(layout, lines[0]):
        expect = f"pulses at {ref} while a switch of {line_words(layout, lines[0])} is kept closed, yet nothing shows"
    else:
        expect = f"no pulses at {ref} while {line_words(layout, lines[0])} is exercised, though its neighbours pulse"
    yield Step(
        effort="logic probe",
        do=f"Logic probe on {'chip' if whole else 'chip pin'} {_placed(layout, ref)} in test mode.",
        points=(f"the supply pin, then the outputs of {ref}" if whole else f"pin {ref}", "logic ground"),
        power=True,
        expect=expect,
        caution=cautions.with_power(kind_of(layout, fault)),
        confirms=(fault,),
    )
    twin = _like_chip(layout, ref, lines) if whole else None
    if twin:
        yield Step(
            effort="swap like chips",
            do=f"Where they are socketed and of one type: swap {ref} and {twin}, then test again.",
            points=(ref, twin),
            expect=f"the fault moves to {lines_words(layout, layout.lines_through[twin])}",
            caution=cautions.before_swapping_chips(),
            confirms=(fault,),
        )


def _like_chip(layout: Layout, ref: str, lines: Sequence[LineKey]) -> str | None:
    """Another chip that carries as many lines of the same side of the same matrix."""
    here = sorted((line.matrix, line.side) for line in lines)
    for other, through in layout.lines_through.items():
        chip = other != ref and owner(other) == other and part_class(other) == "integrated circuit"
        if chip and sorted((line.matrix, line.side) for line in through) == here:
            return other
    return None


def _across(layout: Layout, fault: Fault) -> Iterator[Step]:
    yield Step(
        effort="part across",
        do=f"Measure across {part_words(str(fault.part))}; lift one leg if a path runs round it.",
        points=(f"one leg of {fault.part}", f"the other leg of {fault.part}"),
        expect="no continuity, or far from its marking",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _relay(layout: Layout, fault: Fault) -> Iterator[Step]:
    ref = str(fault.part)
    at_rest = fault.when == "rest"
    how = "Press its armature in by hand" if at_rest else "Leave its armature alone"
    yield Step(
        effort="relay contacts",
        do=f"{how} and measure the contacts of relay {_placed(layout, ref)}"
        + ("; then measure its coil." if at_rest else "."),
        points=(f"the common contact of {ref}", f"the contact of {ref} for its pulled position"),
        expect="no continuity, or a coil that is open" if at_rest else "continuity though it isn't pulled: welded",
        caution=cautions.before_measuring(Kind.COIL, on_board=True),
        confirms=(fault,),
    )


def _stuck_driver(layout: Layout, fault: Fault) -> Iterator[Step]:
    relay = layout.line(fault.lines[0]).select
    if relay:
        yield _live_feed(layout, fault, relay)
        return
    if fault.part and part_class(fault.part) == "transistor":
        step = _junctions(layout, fault, "a junction that conducts both ways, or next to nothing from end to end")
        yield step._replace(caution=cautions.where_a_coil_stays_on(kind_of(layout, fault)))
        return
    line, kind = fault.lines[0], kind_of(layout, fault)
    pin = contact_of(layout, line) or fault.part or f"of {line_words(layout, line)}"
    powered = kind is not Kind.COIL
    yield Step(
        effort="logic probe" if powered else "part across",
        do=f"Switch off, {unplug(layout, line)}"
        + (", switch on and probe the board pin in test mode." if powered else " and measure the board pin."),
        points=(f"board pin {pin}", "ground"),
        power=powered,
        expect="held at one level, with no pulses" if powered else CONTINUITY,
        caution=cautions.with_power(kind) if powered else cautions.where_a_coil_stays_on(kind),
        confirms=(fault,),
    )


def _live_feed(layout: Layout, fault: Fault, relay: str) -> Step:
    """A side that its relay no longer parts from the supply."""
    side = line_words(layout, fault.lines[0])
    other = "pulled" if layout.line(fault.lines[0]).when == "rest" else "resting"
    how = "Press its armature in by hand" if other == "pulled" else "Leave its armature alone"
    return Step(
        effort="relay contacts",
        do=f"{how} and measure from the common contact of relay {_placed(layout, relay)} to {side}.",
        points=(f"the common contact of {relay}", f"its contact for {side}"),
        expect=f"continuity though the relay is {other}: welded contacts, or feeds that touch",
        caution=cautions.where_a_coil_stays_on(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _board_or_loom(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """For a dead line of switches or lamps: whether its signal leaves the board at all."""
    opens = [fault for fault in members if fault.fault is FaultClass.OPEN and len(fault.lines) == 1]
    board = tuple(f for f in opens if f.part and part_class(f.part) in ("transistor", "integrated circuit"))
    if not board or len(board) == len(members):
        return
    line = board[0].lines[0]
    matrix, contact = layout.matrix(line.matrix), contact_of(layout, line)
    if contact is None or matrix.kind is Kind.COIL:
        return
    named = line_words(layout, line)
    if matrix.kind is Kind.SWITCH:
        banded = "the pin of the other side" if is_sensed(layout, line) else contact
        do = f"Pull plug {owner(contact)}. In the switch test, join board pin {contact} to a pin of the other side by a"
        do += f" diode, its band at {banded}."
        points, expect = (f"board pin {contact}", "any board pin of the other side"), f"nothing shows on {named}"
    else:
        do = f"With {named} in test, probe the board pin of {contact}."
        points, expect = (f"board pin {contact}", "lamp ground"), f"no pulses while {named} is exercised"
    yield Step("board pin in test mode", do, points, expect, cautions.with_power(matrix.kind), board, power=True)


def _placed(layout: Layout, ref: str) -> str:
    """A designator with the place where the layout says it sits."""
    part = layout.part_by_ref.get(ref)
    return f"{ref} ({part.place})" if part and part.place else ref


_BY_CLASS: dict[str, _Stepper] = {
    "connector": _contact,
    "transistor": _transistor,
    "integrated circuit": _chip,
}
_BY_FAULT: dict[FaultClass, _Stepper] = {
    FaultClass.UNPLUGGED: _plug,
    FaultClass.FUSE_BLOWN: _fuse,
    FaultClass.RELAY_STUCK: _relay,
    FaultClass.STUCK_ON: _stuck_driver,
}
