"""Propose every check of faults: one function per class of fault, and those that part a whole group."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.board_or_loom import board_or_loom_steps, grounded_or_stuck_steps
from matrixcheck.diagnosis.advice.bench_checks.chips import chip_steps
from matrixcheck.diagnosis.advice.bench_checks.coils import dead_coil, stuck_coil, wrong_value
from matrixcheck.diagnosis.advice.bench_checks.connectors import connector_steps
from matrixcheck.diagnosis.advice.bench_checks.diodes import measured_diode, reversed_diode
from matrixcheck.diagnosis.advice.bench_checks.drivers import stuck_steps, transistor_steps
from matrixcheck.diagnosis.advice.bench_checks.fuses import fuse_steps
from matrixcheck.diagnosis.advice.bench_checks.lamps import dead_lamp, ghost, keep_warm, lit_lamp
from matrixcheck.diagnosis.advice.bench_checks.lines import line_steps
from matrixcheck.diagnosis.advice.bench_checks.relays import relay_steps
from matrixcheck.diagnosis.advice.bench_checks.steps import Step, kind_of
from matrixcheck.diagnosis.advice.bench_checks.switches import switch_steps, through_contacts_and_diode
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.diagnosis.words.places import part_words
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.model import Layout

Stepper = Callable[[Layout, Fault], Iterator[Step]]


def steps_for(layout: Layout, members: Sequence[Fault]) -> Iterator[Step]:
    """Yield every check on some faults; one that serves several of them comes several times."""
    for fault in members:
        if fault.fault is FaultClass.OPEN and fault.part is not None:
            yield from _OPEN_PARTS.get(part_class(fault.part), _across)(layout, fault)
        for stepper in _BY_FAULT.get(fault.fault, ()):
            yield from stepper(layout, fault)
    yield from line_steps(layout, members)
    yield from board_or_loom_steps(layout, members)
    yield from grounded_or_stuck_steps(layout, members)


def _across(layout: Layout, fault: Fault) -> Iterator[Step]:
    ref = str(fault.part)
    yield Step(
        kind="part across",
        test="across",
        at=(ref,),
        short=f"Measure across {part_words(ref)}.",
        do=f"Measure across {part_words(ref)}.",
        points=(f"one leg of {ref}", f"the other leg of {ref}"),
        good="what is marked on it, or less where a path runs round it",
        faulty="open, or more than is marked on it",
        then="In circuit it may read low, never high: high is bad.",
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )


def _dead(layout: Layout, fault: Fault) -> Iterator[Step]:
    device = layout.cell(fault.cells[0]).device
    return {"switch": switch_steps, "coil": dead_coil}.get(device, dead_lamp)(layout, fault)


def _stuck(layout: Layout, fault: Fault) -> Iterator[Step]:
    device = layout.cell(fault.cells[0]).device
    return {"switch": switch_steps, "coil": stuck_coil}.get(device, lit_lamp)(layout, fault)


def _through_a_switch(layout: Layout, fault: Fault) -> Iterator[Step]:
    if layout.cell(fault.cells[0]).device == "switch":
        yield from through_contacts_and_diode(layout, fault)


_OPEN_PARTS: dict[str, Stepper] = {
    "connector": connector_steps,
    "transistor": transistor_steps,
    "integrated circuit": chip_steps,
}
_BY_FAULT: dict[FaultClass, tuple[Stepper, ...]] = {
    FaultClass.UNPLUGGED: (connector_steps,),
    FaultClass.PLUG_SHIFTED: (connector_steps,),
    FaultClass.PLUGS_SWAPPED: (connector_steps,),
    FaultClass.FUSE_BLOWN: (fuse_steps,),
    FaultClass.RELAY_STUCK: (relay_steps,),
    FaultClass.STUCK_ON: (stuck_steps,),
    FaultClass.DEVICE_DEAD: (_dead, _through_a_switch),
    FaultClass.DEVICE_STUCK: (_stuck,),
    FaultClass.DIODE_OPEN: (measured_diode, _through_a_switch),
    FaultClass.DIODE_SHORTED: (measured_diode, ghost, _through_a_switch),
    FaultClass.DIODE_REVERSED: (reversed_diode, _through_a_switch),
    FaultClass.KEEP_WARM_GLOW: (keep_warm,),
    FaultClass.WRONG_DEVICE: (wrong_value,),
}
