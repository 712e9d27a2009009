"""Propose checks of chips and their pins. With coils behind a chip their fuse is out: a latch may fire any of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import Step, is_sensed, kind_of, placed
from matrixcheck.diagnosis.result import Fault
from matrixcheck.layout.designators import owner, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.wording import line_words, lines_words

_FUSE_OUT = "Switch off. Take the coil fuse out. Switch on."


def chip_steps(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield checks of a chip or of one pin of it; a chip may be swapped with a like one."""
    ref = str(fault.part)
    whole, sensed = owner(ref) == ref, is_sensed(layout, fault.lines[0])
    if whole:
        yield _sensing_chip(layout, fault) if sensed else _driving_chip(layout, fault)
        twin = _like_chip(layout, ref, fault.lines)
        if twin:
            yield _swap(layout, fault, twin)
    else:
        yield _input_pin(layout, fault) if sensed else _output_pin(layout, fault)


def _output_pin(layout: Layout, fault: Fault) -> Step:
    ref, kind = str(fault.part), kind_of(layout, fault)
    coils = kind is Kind.COIL
    return Step(
        kind="logic probe at a coil latch" if coils else "logic probe",
        test="chip-pin",
        at=(ref,),
        short=f"Probe chip pin {ref} while {line_words(layout, fault.lines[0])} is exercised.",
        prepare=_FUSE_OUT if coils else "",
        do=f"Logic probe, ground clip first, on chip pin {ref} in test mode.",
        points=(f"pin {ref}", "logic ground"),
        good="it pulses like its neighbours",
        faulty="no pulses, though its neighbours pulse",
        then="Faulty: the part behind may hold the pin. Free that first, with the power off, and try again.",
        power=True,
        hazard=cautions.on(kind),
        confirms=(fault,),
    )


def _input_pin(layout: Layout, fault: Fault) -> Step:
    ref, line = str(fault.part), fault.lines[0]
    moves = _moves(layout, line)
    return Step(
        kind="input pin",
        test="chip-pin",
        at=(ref,),
        short=f"Hold a switch of {line_words(layout, line)} closed, and probe the chip's input, then its output.",
        do=f"Hold a switch of {line_words(layout, line)} closed. Logic probe on the chip's input for it, then on its "
        f"output: {ref} and the other pin of its gate.",
        points=(f"pin {ref}, and the other pin of its gate", "logic ground"),
        good=f"the input {moves}, and the output changes with it",
        faulty=f"the input {moves}, and its output never changes",
        between="The input is dead: loom, plug, or a resistor before it.",
        power=True,
        hazard=cautions.on(Kind.SWITCH),
        confirms=(fault,),
    )


def _driving_chip(layout: Layout, fault: Fault) -> Step:
    ref, kind = str(fault.part), kind_of(layout, fault)
    return Step(
        kind="whole chip",
        test="chip",
        at=(ref,),
        short=f"Measure 5 V at the supply leg of chip {ref}, then probe its outputs in test mode.",
        prepare=_FUSE_OUT if kind is Kind.COIL else "",
        do=f"Chip {placed(layout, ref)}: measure its supply at the leg itself, 5 V within 5 %. Then probe clock, "
        "enable and every output in test mode.",
        points=(f"the supply leg, then inputs and outputs of {ref}", "logic ground"),
        good="its outputs move",
        faulty=f"supply, clock and enable are there, but no output of {ref} moves",
        between="One dead output among live ones: check that pin.",
        power=True,
        hazard=cautions.on(kind),
        confirms=(fault,),
    )


def _sensing_chip(layout: Layout, fault: Fault) -> Step:
    ref = str(fault.part)
    moves = _moves(layout, fault.lines[0])
    return Step(
        kind="whole chip",
        test="chip",
        at=(ref,),
        short=f"Hold one switch of each line closed in turn, and probe inputs and outputs of chip {ref}.",
        do=f"Chip {placed(layout, ref)}: hold one switch of each line closed in turn. Touch the chip's input for it, "
        "then its output, with a logic probe.",
        points=(f"the inputs and the outputs of {ref}", "logic ground"),
        good=f"the input {moves}, and the output changes with it",
        faulty=f"the input {moves}, and no output changes",
        between="The inputs are dead: loom or plug.",
        power=True,
        hazard=cautions.on(Kind.SWITCH),
        confirms=(fault,),
    )


def _moves(layout: Layout, line: LineKey) -> str:
    return "pulses" if layout.matrix(line.matrix).rows_shared else "drops to about 0 V"


def _swap(layout: Layout, fault: Fault, twin: str) -> Step:
    ref, kind = str(fault.part), kind_of(layout, fault)
    coils = kind is Kind.COIL
    fuse = " Take the coil fuse out." if coils else ""
    after = " Probe the outputs before the coil fuse goes back in." if coils else ""
    return Step(
        kind="swap like chips",
        test="swap-chips",
        at=(ref, twin),
        short=f"Swap chips {ref} and {twin}, where both are socketed and of one type.",
        prepare=f"Switch off.{fuse}",
        do=f"Only where both are socketed and of one type number. Note pin 1. Swap {ref} and {twin}. Switch on and "
        f"test.{after}",
        points=(ref, twin),
        good="the fault stays where it is",
        faulty=f"the fault moves to {lines_words(layout, layout.lines_through[twin])}",
        then="Look for a bent leg. Clean legs count as a repair: try the old chip once more.",
        power=True,
        hazard=cautions.Hazard.COIL_CHIPS if coils else cautions.Hazard.CHIPS,
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
