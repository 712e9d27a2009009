"""Propose checks of parts: plugs and their contacts, fuses, transistors, chips. Relays: `relays`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.board import board_or_loom, stuck_driver
from matrixcheck.diagnosis.advice.bench_checks.relays import relay_steps
from matrixcheck.diagnosis.advice.bench_checks.steps import (
    OPEN,
    STEADY,
    Step,
    contact_of,
    is_sensed,
    kind_of,
    placed,
    unplug,
)
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.diagnosis.words.places import line_words, lines_words, part_words
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey

_Stepper = Callable[[Layout, Fault], Iterator[Step]]


def part_steps(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield checks for each member that is a part, and for whether the fault is on the board or in the loom."""
    for fault in members:
        if fault.fault is FaultClass.OPEN and fault.part is not None:
            yield from _BY_CLASS.get(part_class(fault.part), _across)(layout, fault)
        elif fault.fault in _BY_FAULT:
            yield from _BY_FAULT[fault.fault](layout, fault)
        elif fault.fault is FaultClass.PLUGS_SWAPPED:
            yield _two_plugs(layout, fault)
    yield from _plugs(layout, members)
    yield from board_or_loom(layout, members)


def _plugs(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield a look at each plug that may be off or one pin off: the same look shows both."""
    seen: dict[str, list[Fault]] = {}
    for fault in members:
        if fault.fault in (FaultClass.UNPLUGGED, FaultClass.PLUG_SHIFTED):
            seen.setdefault(str(fault.part), []).append(fault)
    for alike in seen.values():
        yield _plug(layout, *alike)


def _plug(layout: Layout, fault: Fault, *others: Fault) -> Step:
    return Step(
        effort="look at a plug",
        do=f"Look at plug {placed(layout, str(fault.part))}: compare its wire colours with the layout, look for a "
        f"free pin at either end and for the key. Is it one pin off or on another header, {_STOP} Else push it home.",
        points=(f"plug {fault.part}", "its other half" if _in_the_loom(layout, fault) else "its header on the board"),
        good="the colours agree, no pin is left over, and it sits home",
        expect="it is off, askew, one pin aside or on another header, or its wire colours aren't those of the layout",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault, *others),
    )


_STOP = "stop: check all fuses, and that nothing at that header is shorted, before power."


def _two_plugs(layout: Layout, fault: Fault) -> Step:
    one, other = str(fault.part), str(fault.other)
    return Step(
        effort="look at a plug",
        do=f"Look at plugs {placed(layout, one)} and {placed(layout, other)}: compare the wire colours of both with "
        f"the layout, look for the free pin and the key. Is one on the other's header, {_STOP}",
        points=(f"plug {one}", f"plug {other}"),
        good="the colours of both agree",
        expect="the colours of each are those that the layout gives for the other",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _fuse(layout: Layout, fault: Fault) -> Iterator[Step]:
    rating = layout.part_by_ref[str(fault.part)].rating if fault.part in layout.part_by_ref else ""
    yield Step(
        effort="fuse out",
        do=f"Take fuse {placed(layout, str(fault.part))} out and measure it; look at its holder"
        + (f". It should read {rating} on the cap." if rating else "."),
        points=(f"one cap of {fault.part}", f"the other cap of {fault.part}"),
        good=f"under 1 ohm{', and the cap says ' + rating if rating else ''}",
        expect=OPEN,
        caution=cautions.before_a_fuse(),
        confirms=(fault,),
    )


def _contact(layout: Layout, fault: Fault) -> Iterator[Step]:
    if owner(str(fault.part)) == fault.part:
        yield _plug(layout, fault)
        return
    yield Step(
        effort="contact",
        do=f"Look for a burnt, spread or pushed-back pin at {fault.part}; measure through it, the plug pushed home.",
        points=(f"the solder joint of the pin of {fault.part}", f"the wire behind {fault.part}"),
        good=STEADY,
        expect="more than 1 ohm above that of the leads, or a reading that jumps when wire or plug is moved",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _transistor(layout: Layout, fault: Fault) -> Iterator[Step]:
    ref = str(fault.part)
    yield Step(
        effort="transistor",
        do=f"Switch off, {unplug(layout, *fault.lines)}, and make a diode test on {placed(layout, ref)}, both ways, "
        "beside a like one. That it passes doesn't prove that it switches.",
        points=(f"base of {ref}, or drain of a MOSFET", "its collector, then its emitter; or the source of a MOSFET"),
        good="0.4 to 0.9 V one way, as on the like one; the gate of a MOSFET reads OL or its resistor",
        expect="OL both ways though the like one conducts, or the gate of a MOSFET reads near zero",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _chip(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Check a chip. With coils behind it their fuse is out while it is probed: a latch may fire any of them."""
    ref, lines, kind = str(fault.part), fault.lines, kind_of(layout, fault)
    whole, sensed = owner(ref) == ref, is_sensed(layout, lines[0])
    first = "Switch off, take out the coil fuse, switch on. " if kind is Kind.COIL else ""
    named = f"{'chip' if whole else 'chip pin'} {placed(layout, ref)}"
    if sensed:
        which = "a switch of each line in turn" if whole else f"a switch of {line_words(layout, lines[0])}"
        do = f"Hold {which} closed, and touch the chip's input for it, then its output, with a logic probe at {named}."
        points = (f"the input and the output of {ref}" if whole else f"pin {ref} and the other pin of its gate",)
        moves = "pulses" if layout.matrix(lines[0].matrix).rows_shared else "drops to about 0 V"
        good = f"the input {moves}, and the output changes with it"
        expect = f"the input {moves}, and {'no output' if whole else 'its output never'} changes"
    elif whole:
        do = f"{first}Logic probe on {named} in test mode; first 5 V at its supply leg, not at the socket."
        points = (f"the supply leg, then inputs and outputs of {ref}",)
        good, expect = "its outputs move", f"supply, clock and enable are there, but no output of {ref} moves"
    else:
        exercised = line_words(layout, lines[0])
        do = f"{first}Logic probe on {named} in test mode. A shorted part behind it holds it too."
        points = (f"pin {ref}",)
        good = "it pulses like its neighbours"
        expect = f"no pulses at {ref} while {exercised} is exercised, though its neighbours pulse"
    yield Step(
        effort="logic probe",
        do=do,
        points=(points[0], "logic ground"),
        power=True,
        good=good,
        expect=expect,
        caution=cautions.with_power(kind),
        confirms=(fault,),
    )
    twin = _like_chip(layout, ref, lines) if whole else None
    if twin:
        fuse = ", take out the coil fuse" if kind is Kind.COIL else ""
        yield Step(
            effort="swap like chips",
            do=f"Where they are socketed and of one type: switch off{fuse}, swap {ref} and {twin}, switch on, test.",
            points=(ref, twin),
            power=True,
            good="the fault stays where it is",
            expect=f"the fault moves to {lines_words(layout, layout.lines_through[twin])}",
            caution=cautions.before_swapping_chips(kind),
            confirms=(fault,),
        )


def _like_chip(layout: Layout, ref: str, lines: Sequence[LineKey]) -> str | None:
    """Find another chip that carries as many lines of the same side of the same matrix."""
    here = sorted((line.matrix, line.side) for line in lines)
    for other, through in layout.lines_through.items():
        chip = other != ref and owner(other) == other and part_class(other) == "integrated circuit"
        if chip and sorted((line.matrix, line.side) for line in through) == here:
            return other
    return None


def _across(layout: Layout, fault: Fault) -> Iterator[Step]:
    yield Step(
        effort="part across",
        do=f"Measure across {part_words(str(fault.part))}. In circuit it may read low, never high.",
        points=(f"one leg of {fault.part}", f"the other leg of {fault.part}"),
        good="what is marked on it, or less where a path runs round it",
        expect="open, or more than is marked on it",
        caution=cautions.before_measuring(kind_of(layout, fault), on_board=True),
        confirms=(fault,),
    )


def _in_the_loom(layout: Layout, fault: Fault) -> bool:
    """Return whether a plug joins two wires: another one stands before it on a line's path."""
    plug = owner(str(fault.part))
    contacts = [contact for line in fault.lines if (contact := contact_of(layout, line))]
    return any(owner(contact) != plug for contact in contacts)


_BY_CLASS: dict[str, _Stepper] = {
    "connector": _contact,
    "transistor": _transistor,
    "integrated circuit": _chip,
}
_BY_FAULT: dict[FaultClass, _Stepper] = {
    FaultClass.FUSE_BLOWN: _fuse,
    FaultClass.RELAY_STUCK: relay_steps,
    FaultClass.STUCK_ON: stuck_driver,
}
