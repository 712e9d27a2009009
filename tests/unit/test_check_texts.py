"""The text of every bench check: short sentences, a code that can be typed, words that fit its matrix and device."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache

import pytest
from drawn_machines import machines
from hypothesis import given, settings

from matrixcheck.diagnosis.advice.bench_checks.by_code import KnownCheck, check_named, every_check
from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.result import BenchCheck, FaultClass, Suspect
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import parse_cell
from tests.machines import shipped_layout

MOST_WORDS = 20
VERBS = [
    "Look",
    "Compare",
    "Take",
    "Measure",
    "Hunt",
    "Make",
    "Check",
    "Pull",
    "Command",
    "Probe",
    "Hold",
    "Swap",
    "Start",
    "Follow",
    "Light",
    "Clean",
    "Bridge",
    "Wipe",
    "Test",
    "Read",
    "Put",
]
NAMES = ("saltmarsh-tram", "switch-8x8", "lamp-8x8", "coil-8x2")


@cache
def known(name: str) -> tuple[KnownCheck, ...]:
    return tuple(every_check(shipped_layout(name)).values())


def sentences(check: BenchCheck) -> Iterator[str]:
    """All that a check says, sentence by sentence; a name in brackets counts as one word."""
    for text in (
        check.short,
        check.do,
        check.good,
        check.faulty,
        check.between,
        check.then,
        check.caution,
        *check.points,
    ):
        yield from re.split(r"(?<=[.!?]) ", re.sub(r" \([^)]*\)", "", text))


def flaws(checks: Sequence[KnownCheck]) -> Iterator[str]:
    """What no check of any layout may have."""
    codes = [each.check.code for each in checks]
    if len({code.casefold() for code in codes}) < len(codes):
        yield f"codes twice: {codes}"
    for each in checks:
        check = each.check
        yield from (f"{check.code}: {one}" for one in sentences(check) if len(one.split()) > MOST_WORDS)
        if not re.fullmatch(r"[A-Za-z0-9-]+(\.[A-Za-z0-9-]+)+", check.code):
            yield f"can't be typed: {check.code}"
        if check.short.split()[0] not in VERBS or not check.short.endswith("."):
            yield f"begins with no verb: {check.short}"
        if not (check.good and check.faulty and all(check.points)) or check.good == check.faulty:
            yield f"says no outcome: {check}"
        if not check.do.startswith(check.prepare):
            yield f"{check.do!r} doesn't begin with {check.prepare!r}"


@pytest.mark.parametrize("name", NAMES)
def test_every_check_of_a_shipped_layout_is_short_and_has_a_code_of_its_own(name: str) -> None:
    assert len(known(name)) > 100
    assert list(flaws(known(name))) == []


@settings(max_examples=8)
@given(machines(most=3))
def test_every_check_of_a_drawn_machine_is_short_and_has_a_code_of_its_own(layout: Layout) -> None:
    checks = tuple(every_check(layout).values())
    assert list(flaws(checks)) == []
    for each in checks[:: max(len(checks) // 5, 1)]:
        found = check_named(layout, each.check.code.upper())
        assert (found.place, set(found.sees)) == (each.place, set(each.sees))
        assert found.check.do == each.check.do


@pytest.mark.parametrize("name", NAMES)
def test_a_check_has_the_same_code_and_text_in_every_answer(name: str) -> None:
    """Proposed for one fault alone, or found by its code in the layout: it is the same check."""
    layout = shipped_layout(name)
    whole = {each.check.code: each.check for each in known(name)}
    seen: set[FaultClass] = set()
    for fault, _ in faults_of(layout):
        if fault.fault in seen and fault.fault is not FaultClass.OPEN:
            continue
        seen.add(fault.fault)
        alone = Suspect(id="s", probability=0.5, members=(fault,), explains=(), contradicts=(), untested=(), says="")
        for check in bench_checks(layout, [alone]):
            same = whole[check.code]
            assert (check.do, check.points, check.good, check.faulty, check.short, check.cost) == (
                same.do,
                same.points,
                same.good,
                same.faulty,
                same.short,
                same.cost,
            )
            assert set(check.splits) <= set(same.splits)


def kinds(layout: Layout, each: KnownCheck) -> set[Kind]:
    return {layout.matrix(cell.matrix).kind for fault in each.check.splits for cell in fault.cells}


@pytest.mark.parametrize("name", NAMES)
def test_words_fit_the_kind_of_matrix(name: str) -> None:
    """No switches to open on lamps or coils, no bulbs in a switch matrix, no pulses at a direct input."""
    layout = shipped_layout(name)
    for each in known(name):
        of, check = kinds(layout, each), each.check
        said = " ".join((check.do, check.good, check.faulty))
        if of and Kind.SWITCH not in of:
            assert not re.search(r"a switch\b|every switch|switches|across (its|the) contacts", said), said
        if of == {Kind.SWITCH}:
            assert not re.search(r"\b(bulb|coil 1|lamp supply|flash lamp|solenoid)", said), said
        if check.code.startswith("chip-pin.U8") or check.code == "chip.U8":
            assert "pulses" not in said
            assert "drops to about 0 V" in said


def test_a_light_beam_has_no_contacts() -> None:
    layout = shipped_layout("saltmarsh-tram")
    beams = [each.check for each in known("saltmarsh-tram") if each.place == "switches.r7c4"]
    assert layout.matrix("switches").by_number[47].name == "salt cart beam"
    assert {check.code for check in beams} == {"beam.switches.47", "diode.switches.47", "band.switches.47"}
    assert not any("contacts" in check.do for check in beams)


def test_a_switch_that_rests_closed_is_judged_the_other_way_round() -> None:
    tram = {each.check.code: each.check for each in known("saltmarsh-tram")}
    resting, usual = tram["contacts.inputs.96"], tram["contacts.inputs.93"]
    assert resting.good == "about zero at rest, open when actuated"
    assert "under 5 ohms when pressed" in usual.good
    assert "while you actuate it" in tram["stuck.inputs.96"].do
    assert "not pressed" in tram["stuck.inputs.93"].do
    assert "at rest" in tram["switch.switches.11"].good.split(";")[0]
    assert "pressed" in tram["switch.switches.24"].good.split(";")[0]
    assert "bridge.inputs.96" not in tram
    assert "bridge.inputs.93" in tram


def test_the_checks_that_everybody_does_first_are_there() -> None:
    """Common practice, no source: seat and tug, rails and fuses by voltmeter, volts along a coil, listen to the relay,
    bridge the switch, swap like plugs, compare with the neighbour; and what kills a new driver."""
    codes = {each.check.code for each in known("saltmarsh-tram")}
    assert codes >= {
        "tug.X1",
        "rails.F2",
        "volts.coils.5",
        "relay.K1.pulls",
        "bridge.switches.24",
        "swap-plugs.switches.c3.X2",
        "compare.switches.c3",
        "before-new.Q35",
        "short-behind.F2",
        "joints.X1",
        "neighbour.coils.5",
        "plugs.X1.X2",
    }
    assert not any("ground" in each.check.short and "tab" in each.check.short for each in known("saltmarsh-tram"))


def test_a_matrix_named_with_strange_signs_still_has_codes_that_can_be_typed() -> None:
    text = """
format = 1
name = "Invented pair"
[[matrix]]
id = "a_b"
kind = "switch"
cells = [["one", "two"]]
[[matrix]]
id = "a-b"
kind = "switch"
cells = [["one", "two"]]
"""
    layout = parse_layout(text, "pair")
    found = every_check(layout)
    assert {"wire.a-b-1.c1", "wire.a-b-2.c1"} <= set(found)
    assert list(flaws(tuple(found.values()))) == []
    assert check_named(layout, "wire.a-b-1.c1").place == "a_b.c1"
    for each in found.values():
        assert parse_cell(each.place, "") or each.place
