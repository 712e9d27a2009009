"""No bench check gives its faulty result on a healthy part: ohms and diode tests by the circuit simulator, all others
by a table of what a healthy part shows.

The sample: seeded banks of every kind (switch and coil banks with and without diodes, lamps, direct inputs, lighting
strings, some of whose switches rest closed), every fault of a wire; and every check of every fault of the shipped
layouts.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.result import BenchCheck, Fault, FaultClass, Suspect
from matrixcheck.layout.files import parse_layout, read_layout, shipped
from matrixcheck.layout.model import Layout
from matrixcheck.report.outcomes import outcomes_of
from tests.bench.layouts import draw_bank, layout_text
from tests.spice.bank import Bank
from tests.spice.meter import OPEN, Meter, diode_test

BANKS = ("switch", "bare", "lamp", "coil", "bare coil", "inputs", "strings")
ABOUT_ZERO = 1.0


def _bank(kind: str) -> Bank:
    rng = random.Random(f"meter {kind}")
    size = {"coil": (8, 2), "bare coil": (8, 2)}.get(kind, (8, 8))
    bank = draw_bank(rng, kind.removeprefix("bare ") if kind == "bare coil" else kind, size)
    notes = dict(bank.notes)
    if bank.kind == "switch":
        for place in rng.sample(sorted(bank.fitted), max(len(bank.fitted) // 3, 1)):
            notes[place] = {**notes.get(place, {}), "rest": "closed"}
    return replace(bank, notes=notes, diodes=bank.diodes and kind != "bare coil")


def _checked(layout: Layout, fault: Fault) -> tuple[BenchCheck, ...]:
    alone = Suspect(id="s1", probability=0.5, members=(fault,), explains=(), contradicts=(), untested=(), says="")
    return bench_checks(layout, [alone])


def _says(text: str, ohms: float) -> bool:
    """Whether a reading is what a text says. Raises ValueError for a text that names no limits."""
    if text.startswith("about zero: up to 1 ohm"):
        return ohms <= ABOUT_ZERO
    if text.startswith("open: OL, or over 10 kilohms"):
        return ohms > OPEN or ("the ohms of two coils in series" in text and ohms > ABOUT_ZERO)
    raise ValueError(text)


def _reading(bank: Bank, fault: Fault, check: BenchCheck) -> float:
    """What a meter shows on the healthy bank where the check says to measure."""
    lines = [line.address for line in fault.lines]
    pulled = {key for plug in re.findall(r"\bX\d+", check.do.split("measure")[0]) for key in bank.through(plug)}
    off = pulled | (set(lines) if "off its board" in check.do else set())
    quiet = lines[:1] if re.search(r"open every switch of it|bulbs of it out|flash lamps of it out", check.do) else ()
    meter = Meter(bank, off, quiet)
    order = [f"r{row}c{column}" for row, column in bank.cells_of(lines[-1])]
    if fault.fault is FaultClass.BREAK:
        lost = {cell.address for cell in fault.cells}
        kept = [cell for cell in order if cell not in lost]
        beyond = next(cell for cell in order if cell in lost)
        return meter.ohms(f"{lines[0]}:{kept[-1]}", f"{lines[0]}:{beyond}")
    if fault.fault is FaultClass.GROUNDED:
        return meter.ohms(lines[0], "0")
    if fault.fault is FaultClass.SHORTED_TOGETHER:
        return meter.ohms(lines[0], lines[1])
    return meter.ohms(lines[0], f"{lines[-1]}:{order[0]}")


@pytest.mark.parametrize("kind", BANKS)
def test_a_healthy_wire_never_reads_as_the_faulty_one(kind: str) -> None:
    bank = _bank(kind)
    layout = parse_layout(layout_text(bank, frozenset()), kind)
    assert layout.matrices[0].has_diodes is bank.diodes
    read = 0
    for fault, _ in faults_of(layout):
        for check in _checked(layout, fault):
            wire = fault.lines and fault.part is None and fault.fault is not FaultClass.STUCK_ON
            if not wire or check.power or check.expect.startswith(("bare copper", "the wire leads to")):
                continue
            ohms = _reading(bank, fault, check)
            assert not _says(check.expect.split("; ")[0], ohms), (fault, check.do, ohms)
            assert _says(check.good, ohms), (fault, check.do, ohms)
            read += 1
    assert read > 5


def test_feeds_that_their_coils_join_are_looked_at_and_not_measured() -> None:
    """Two feeds of a bank without diodes read about zero where nothing touches."""
    bank = _bank("bare coil")
    assert Meter(bank, set(bank.lines)).ohms("c1", "c2") <= 2.5
    layout = parse_layout(layout_text(bank, frozenset()), "bare coil")
    pairs = [f for f, _ in faults_of(layout) if len(f.lines) == 2 and f.part is None and f.lines[0].side == "column"]
    assert {fault.fault for fault in pairs} >= {FaultClass.SHORTED_TOGETHER, FaultClass.CROSSED}
    assert not any("measure" in check.do for fault in pairs for check in _checked(layout, fault))


def test_a_diode_reads_good_whichever_way_round_it_was_soldered() -> None:
    """So that the check of a reversed one is a look at its band; and a good one is never open or shorted."""
    forward, backward = diode_test()
    assert 0.4 <= forward <= 0.8
    assert backward > 2.0
    layout = read_layout(shipped()["saltmarsh-tram"])
    found = [each for each, _ in faults_of(layout) if each.fault is FaultClass.DIODE_REVERSED]
    assert found
    assert all(check.do.startswith("Look") for fault in found for check in _checked(layout, fault))


HEALTHY: tuple[tuple[str, str], ...] = (
    # What the faulty result of a check begins with or holds, and what a healthy part shows in the same place.
    (r"^it is off, askew", "the colours agree, no pin is left over, and it sits home"),
    (r"^the colours of each are those that the layout gives for the other", "the colours of both agree"),
    (r"^open: OL, or over 10 kilohms$", "under 1 ohm"),
    (r"^more than 1 ohm above that of the leads, or a reading that jumps", "about zero"),
    (r"^open: OL, or over 10 kilohms, or a reading that jumps", "about zero"),
    (r"^OL both ways though the like one conducts", "0.4 to 0.9 V one way, as on the like one"),
    (r"^under 0.1 V both ways, or under 5 ohms", "0.4 to 0.7 V one way, OL the other; or OL both ways"),
    (r"^no pulses at .* though its neighbours pulse", "it pulses like its neighbours"),
    (r"^supply, clock and enable are there, but no output", "its outputs move"),
    (r"^the input (pulses|drops to about 0 V), and (no|its) output", "the input"),
    (r"^the fault moves to", "the fault stays where it is"),
    (r"^open, or more than is marked on it", "what is marked on it, or less"),
    (r"^it is silent though its rated volts are there", "it clicks"),
    (r"^it stays pulled with the power off", "it rests"),
    (r"^open: OL, or over 10 kilohms when pressed", "about zero"),
    (r"^about zero: .* though it isn't pulled", "open"),
    (r"^about zero: .*, though the relay is", "open"),
    (r"^about zero: up to 1 ohm above that of the leads$", "open"),
    (r"^about zero: .*the ohms of a coil mean", "open"),
    (r"^about zero: .*the wire leads to", "open"),
    (r"^about zero: .*unlike its neighbours", "open: OL, or over 10 kilohms, or the reading of a neighbour"),
    (r"still shows, or the pin is near 0 V$", "no longer shows, and the pin stands near"),
    (r"^held low without a pulse, though its neighbours pulse", "it pulses like its neighbours"),
    (r"^the full supply, steady, unlike its neighbours", "none, or as at its neighbours"),
    (r"^the test lamp is lit all the time", "the test lamp is dark unless"),
    (r"^bare copper of the one touches the other", "each is whole and touches nothing"),
    (r"^the wire leads to", "it leads to"),
    (r"^volts at the first, none at the second", "the same volts at both"),
    (r"^OL both ways \(open\)$|^under 0.1 V both ways \(shorted\)$", "0.4 to 0.8 V one way, OL the other"),
    (r"^it is the odd one out: its band points to the other lug", "its band points as theirs do"),
    (r"^over twice that, or open", "10 % more or less"),
    (r"^the same at rest and actuated", "about zero at rest, open when actuated"),
    (r"^still open when pressed", "open, and under 5 ohms when pressed"),
    (r"^the good bulb lights here", "its old bulb lights in the other socket"),
    (r"^less than 10 kilohms", "open: OL, or over 10 kilohms"),
    (r"^still outside", "within"),
    (r"^it glows at rest as well", "dark at rest: no fault"),
)


@cache
def _shipped() -> tuple[tuple[Fault, BenchCheck], ...]:
    return tuple(_all_checks())


def _all_checks() -> Iterator[tuple[Fault, BenchCheck]]:
    for path in shipped().values():
        layout = read_layout(path)
        for fault in (*(each for each, _ in faults_of(layout)), *glow_faults(layout)):
            for check in _checked(layout, fault):
                yield fault, check


def test_every_check_says_what_a_healthy_part_shows_and_no_such_part_is_called_faulty() -> None:
    for fault, check in _shipped():
        (_, good), (_, faulty) = outcomes_of(check)
        known = [healthy for pattern, healthy in HEALTHY if re.search(pattern, faulty)]
        assert known, (fault, faulty)
        assert any(healthy in good for healthy in known), (fault, good, faulty)
        assert not any(good.startswith(part) for part in faulty.split("; ")), (fault, good, faulty)


def test_no_plug_is_pulled_and_nothing_clipped_or_swapped_before_the_power_is_off() -> None:
    for _, check in _shipped():
        if check.power and re.search(r"pull plug|clip|bridge|swap|put a filament", check.do, re.IGNORECASE):
            handled = re.search(r"pull plug|clip|bridge|swap|put a filament", check.do, re.IGNORECASE)
            assert handled
            assert "witch off" in check.do[: handled.start()], check.do
            assert "switch on" in check.do[handled.start() :].casefold(), check.do


def test_a_powered_check_with_a_plug_off_says_which_pins_and_what_else_the_plug_carries() -> None:
    for fault, check in _shipped():
        if check.power and "pull plug" in check.do and "test mode" not in check.do:
            assert all(re.search(r"pin|ground|supply|header", point) for point in check.points), check.points
        if fault.part == "U8-4" and "pull plug" in check.do:
            assert "X13 also carries" in check.do


def test_coil_latches_are_probed_with_the_coil_fuse_out() -> None:
    layout = read_layout(shipped()["saltmarsh-tram"])
    powered = [
        check
        for fault, check in _shipped()
        if check.power and fault.fault is FaultClass.OPEN and fault.lines and fault.lines[0].matrix == "coils"
    ]
    assert powered
    assert layout.matrix("coils").kind == "coil"
    assert all("take out the coil fuse" in check.do for check in powered)


def test_flash_lamps_get_the_caution_of_the_coil_supply() -> None:
    layout = read_layout(shipped()["saltmarsh-tram"])
    lamps = [
        check
        for fault, check in _shipped()
        if fault.cells and fault.cells[0].matrix == "coils" and len(fault.cells) == 1 and not fault.lines
        if layout.cell(fault.cells[0]).device == "flash lamp"
    ]
    assert lamps
    assert all("Measure the solenoid supply" in check.caution for check in lamps)


def test_a_fuse_is_renewed_by_the_label_and_not_by_what_was_in_it() -> None:
    fuses = [check for fault, check in _shipped() if fault.fault is FaultClass.FUSE_BLOWN]
    assert fuses
    assert all("not what was in the holder" in check.caution for check in fuses)
