"""Bench checks against the circuit simulator: on a healthy bank each gives its good result, and on the fault that it
tests its faulty one, wherever ohms, a diode test or volts can be worked out.

The sample: seeded banks of every kind (switch and coil banks with and without diodes, lamps, direct inputs, lighting
strings, some of whose switches rest closed), with chains known and unknown; every fault of a wire, device, diode or
driver. The verdict is the program's own, from the value and the check's limits. Values of parts: common practice, no
source.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import product

import pytest

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.advice.bench_checks.values import judged
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.result import BenchCheck, FaultClass, Suspect
from matrixcheck.diagnosis.result import Fault as Named
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from tests.bench.layouts import draw_bank, layout_text
from tests.samples import some_of
from tests.spice.bank import Bank, Fault, Place
from tests.spice.meter import Meter, diode_test, pin_volts

BANKS = ("switch", "bare", "lamp", "coil", "bare coil", "inputs", "strings")
MOST_OF_A_KIND = 8
WIRES = {
    "first wire",
    "across the break",
    "wire to ground",
    "string to ground",
    "two wires",
    "two strings",
    "wire to the other line",
}


def drawn(kind: str) -> Bank:
    rng = random.Random(f"meter {kind}")
    size = {"coil": (8, 2), "bare coil": (8, 2)}.get(kind, (8, 8))
    bank = draw_bank(rng, kind.removeprefix("bare ") if kind == "bare coil" else kind, size)
    notes = dict(bank.notes)
    if bank.kind == "switch":
        for place in rng.sample(sorted(bank.fitted), max(len(bank.fitted) // 3, 1)):
            notes[place] = {**notes.get(place, {}), "rest": "closed"}
    if bank.kind == "coil":
        coils = [place for place in sorted(bank.fitted) if bank.lamp(place) is None]
        notes |= {place: {"ohms": 4.2, "tolerance": 0.1, **notes.get(place, {})} for place in coils}
    return replace(bank, notes=notes, diodes=bank.diodes and kind != "bare coil")


def checks_of(layout: Layout, fault: Named) -> tuple[BenchCheck, ...]:
    alone = Suspect(id="s1", probability=0.5, members=(fault,), explains=(), contradicts=(), untested=(), says="")
    return tuple(check for check in bench_checks(layout, [alone]) if check.splits)


def planted(fault: Named) -> Fault:
    """The same fault in the simulator's terms."""
    lines = tuple(line.address for line in fault.lines)
    cells = tuple((cell.row, cell.column) for cell in fault.cells)
    return Fault(str(fault.fault), fault.part, lines, cells, fault.after, fault.when)


def written(ohms: float) -> str:
    return "OL" if ohms > 1e6 else f"{ohms:.4f}"


def both_ways(volts: tuple[float, float]) -> str:
    return "/".join("OL" if each > 2.2 else f"{each:.3f}" for each in volts)


def value(bank: Bank, fault: Named, check: BenchCheck, wrong: Fault | None) -> str | None:
    """What the meter shows where the check says to measure, with or without the fault; None where no meter says."""
    if check.check in WIRES:
        return written(wire_ohms(bank, fault, check, wrong))
    place = (fault.cells[0].row, fault.cells[0].column) if fault.cells else (0, 0)
    if check.check in ("shorted driver", "transistor"):
        return driver_volts(bank, fault, check, wrong)
    if check.check == "unplug and look":
        return f"{pin_volts(bank.volts, wrong is not None):.2f}"
    if check.check in ("fuse out", "contact", "relay contacts"):
        conducts_when_good = check.limits is not None and check.limits.good is not None and check.limits.good[0] == 0
        return "0.05" if (wrong is None) is conducts_when_good else "OL"
    return cell_value(bank, place, check, wrong)


def wire_ohms(bank: Bank, fault: Named, check: BenchCheck, wrong: Fault | None) -> float:
    lines = [line.address for line in fault.lines]
    off = {key for plug in check.plugs for key in bank.through(plug)} | (
        set(lines) if "the plug of" in check.prepare else set()
    )
    quieted = re.search(r"Open every switch of|bulbs of (the line|both lines) out|flash lamps of", check.prepare)
    meter = Meter(bank, off, lines if quieted else (), wrong)
    order = [f"r{row}c{column}" for row, column in bank.cells_of(lines[-1])]
    if fault.fault is FaultClass.BREAK and check.plugs == () and not check.prepare:
        lost = {cell.address for cell in fault.cells}
        kept = [cell for cell in order if cell not in lost]
        return meter.ohms(f"{lines[0]}:{kept[-1]}", f"{lines[0]}:{next(cell for cell in order if cell in lost)}")
    if fault.fault is FaultClass.BREAK:
        return max(meter.ohms(lines[0], f"{lines[0]}:{cell}") for cell in order)
    if fault.fault is FaultClass.GROUNDED:
        return meter.ohms(lines[0], "0")
    if fault.fault is FaultClass.SHORTED_TOGETHER:
        return meter.ohms(lines[0], lines[1])
    return meter.ohms(lines[0], f"{lines[-1]}:{order[0]}")


def driver_volts(bank: Bank, fault: Named, check: BenchCheck, wrong: Fault | None) -> str:
    if check.check == "transistor":
        return both_ways(diode_test("open" if wrong else "healthy"))
    line = fault.lines[0].address
    loom_off = Meter(bank, [key for key in bank.lines if key != line], bank.lines, wrong)
    return both_ways(loom_off.diode(line, f"{line}rail" if "its supply" in check.points else "0"))


def cell_value(bank: Bank, place: Place, check: BenchCheck, wrong: Fault | None) -> str | None:
    row, column = place
    top, middle, low = f"c{column}:r{row}c{column}", f"m{row}_{column}", f"r{row}:r{row}c{column}"
    alone = str(wrong.fault).removeprefix("diode-") if wrong else "healthy"
    in_place = Meter(bank, (), (), wrong)
    own_wire_off = Meter(bank, (), [f"c{column}"] if bank.is_strings else [], wrong, own_wire_off=place)
    ways: dict[str, Callable[[], str]] = {
        "switch": lambda: both_ways(Meter(bank, (), (), wrong, pressed=place).diode(top, low)),
        "contacts": lambda: "OL" if wrong else "0.05",
        "stuck": lambda: "0.05" if wrong else "OL",
        "diode": lambda: both_ways(Meter(bank, (), (), wrong, open_device=place).diode(middle, low)),
        "diode, leg lifted": lambda: both_ways(diode_test(alone)),
        "device across its lugs": lambda: written(in_place.ohms(top, middle if bank.diodes else low)),
        "coil, a lead off": lambda: written(own_wire_off.ohms(top, low)),
        "wire-off": lambda: written(own_wire_off.ohms(low if bank.shared else top, "0")),
    }
    way = ways.get(check.check) or ways.get(check.code.partition(".")[0])
    return way() if way and check.limits else None


def cases(bank: Bank, layout: Layout) -> Iterator[tuple[Named, BenchCheck]]:
    """The checks with limits, of every kind and class of fault up to so many."""
    count: dict[tuple[str, FaultClass], int] = {}
    for fault, check in every_case(bank, layout):
        kind = check.check, fault.fault
        count[kind] = count.get(kind, 0) + 1
        if count[kind] <= MOST_OF_A_KIND:
            yield fault, check


def every_case(bank: Bank, layout: Layout) -> Iterator[tuple[Named, BenchCheck]]:
    for fault, _ in faults_of(layout):
        for check in checks_of(layout, fault):
            if check.limits is not None:
                yield fault, check
    for line in bank.lines:
        places = bank.cells_of(line)
        lost = places[len(places) // 2 :]
        own = next(key for key in layout.matrices[0].lines if key.address == line)
        if 0 < len(lost) < len(places) and layout.line(own).chain is None:
            cells = tuple(sorted(CellKey(own.matrix, *place) for place in lost))
            fault = Named(fault=FaultClass.BREAK, lines=(own,), cells=cells, after=len(places) - len(lost))
            yield from ((fault, check) for check in checks_of(layout, fault) if check.limits is not None)


@pytest.mark.parametrize(("kind", "chains"), some_of(product(BANKS, ("known", "unknown")), 4))
def test_a_healthy_bank_reads_good_and_the_fault_reads_faulty(kind: str, chains: str) -> None:
    bank = drawn(kind)
    known = frozenset(bank.lines) if chains == "known" else frozenset()
    layout = parse_layout(layout_text(bank, known), kind)
    assert layout.matrices[0].has_diodes is bank.diodes
    read = set()
    for fault, check in cases(bank, layout):
        healthy = value(bank, fault, check, None)
        faulty = value(bank, fault, check, planted(fault))
        if healthy is None or faulty is None:
            continue
        assert judged(check, healthy).verdict == "good", (fault, check.code, healthy)
        if not (fault.fault is FaultClass.DIODE_REVERSED and check.code.startswith("switch.")):  # seen by the way round
            assert judged(check, faulty).verdict == "faulty", (fault, check.code, faulty)
        read.add(check.check)
    assert len(read) > 5, read


def test_feeds_that_their_coils_join_are_looked_at_and_not_measured() -> None:
    """Two feeds of a bank without diodes read about zero where nothing touches."""
    bank = drawn("bare coil")
    assert Meter(bank, set(bank.lines)).ohms("c1", "c2") <= 2.5
    layout = parse_layout(layout_text(bank, frozenset()), "bare coil")
    pairs = [f for f, _ in faults_of(layout) if len(f.lines) == 2 and f.part is None and f.lines[0].side == "column"]
    assert {fault.fault for fault in pairs} >= {FaultClass.SHORTED_TOGETHER, FaultClass.CROSSED}
    assert not any(check.limits for fault in pairs for check in checks_of(layout, fault))


def test_a_coil_without_diodes_beside_it_is_measured_with_a_lead_off() -> None:
    """In place an open coil reads the others: less than twice its own ohms."""
    bank = drawn("bare coil")
    place = next(place for place in sorted(bank.fitted) if bank.lamp(place) is None)
    dead = Fault("device-dead", cells=(place,))
    row, column = place
    through_others = Meter(bank, (), (), dead).ohms(f"c{column}:r{row}c{column}", f"r{row}:r{row}c{column}")
    assert through_others < 2 * 4.2
    layout = parse_layout(layout_text(bank, frozenset()), "bare coil")
    named = next(f for f, _ in faults_of(layout) if planted(f) == dead)
    (coil,) = [check for check in checks_of(layout, named) if check.code.startswith("coil.")]
    assert coil.do.startswith("Take one lead off.")


def test_a_diode_reads_good_whichever_way_round_it_was_soldered() -> None:
    """So that the check of a reversed one is a look at its band; and a good one is never open or shorted."""
    forward, backward = diode_test()
    assert 0.4 <= forward <= 0.8
    assert backward > 2.0
    layout = parse_layout(layout_text(drawn("switch"), frozenset()), "switch")
    found = [each for each, _ in faults_of(layout) if each.fault is FaultClass.DIODE_REVERSED]
    assert found
    for fault in found:
        (band,) = [check for check in checks_of(layout, fault) if check.code.startswith("band.")]
        assert band.short.startswith("Look")
        assert band.limits is None
