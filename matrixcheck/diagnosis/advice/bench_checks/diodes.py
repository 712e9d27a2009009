"""Propose checks of the diode of one cell."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.diagnosis.advice.bench_checks import cautions
from matrixcheck.diagnosis.advice.bench_checks.steps import Step, kind_of, setup_at
from matrixcheck.diagnosis.result import Fault, Limits
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.wording import cell_words


def measured_diode(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield the diode test of a diode that may be open or shorted: one measurement serves both."""
    cell = layout.cell(fault.cells[0])
    named = cell_words(layout, cell.key)
    coil = kind_of(layout, fault) is Kind.COIL
    free = {"switch": "its switch open", "lamp": "its bulb out", "flash lamp": "its bulb out"}.get(cell.device, "")
    lifted = "one leg lifted" if coil else free
    which = " Take the one in series, not the one across the coil." if cell.device == "coil" else ""
    yield Step(
        kind="diode, leg lifted" if coil else "diode",
        test="diode",
        at=(cell.key,),
        short=f"Test the diode of {cell.device} {cell.number}, both ways, {lifted}.",
        do=f"Diode test on the diode of {named}, both ways, {lifted}.{which}",
        points=(f"the banded end of the diode of {named}", "its other end"),
        good="0.4 to 0.8 V one way, OL the other",
        faulty="OL both ways (open), or under 0.1 V both ways (shorted)",
        between="A value both ways: something lies in parallel. Lift one leg.",
        then="It reads good whichever way round it sits: look at its band as well.",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(kind_of(layout, fault)),
        limits=Limits(unit="volts", good=(0.4, 0.8), faulty=((0, 0.1), (2, None)), both_ways=True),
        confirms=(fault,),
    )


def reversed_diode(layout: Layout, fault: Fault) -> Iterator[Step]:
    """Yield a look: a meter can't, as a diode conducts towards its band whichever way round it sits."""
    cell = layout.cell(fault.cells[0])
    named = cell_words(layout, cell.key)
    yield Step(
        kind="look at a diode",
        test="band",
        at=(cell.key,),
        short=f"Look at which lug the band of the diode of {cell.device} {cell.number} points to.",
        do=f"Look at which lug the band of the diode of {named} points to. Compare two neighbours of the same matrix.",
        points=(f"the diode of {named}", "those of its neighbours"),
        good="its band points as theirs do",
        faulty="it is the odd one out: its band points to the other lug",
        then="A meter across the diode itself cannot say: a reversed one measures good.",
        setup=setup_at(layout, [cell.key]),
        hazard=cautions.off(kind_of(layout, fault)),
        confirms=(fault,),
    )
