"""No bench check gives its faulty result on a healthy part, by a table of what the trade expects of each kind of check
(common practice, no source). What a meter reads is held to the circuit simulator in `test_checks_by_meter`.

The sample: every check of every fault of the shipped layouts.
"""

from __future__ import annotations

import re
from functools import cache

from matrixcheck.diagnosis.advice.bench_checks.by_code import KnownCheck, every_check
from matrixcheck.diagnosis.advice.bench_checks.work_order import check_minutes
from matrixcheck.layout.files import read_layout, shipped
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import parse_cell
from matrixcheck.report.outcomes import outcomes_of

EXPECTED: dict[str, tuple[tuple[str, str], ...]] = {
    # Of each kind of check: what a healthy part shows, and what the faulty one does.
    "look at a plug": (("no pin is left over", "off, askew, one pin aside"), ("of both agree", "gives for the other")),
    "reseat and tug": (("every wire holds", "comes out"),),
    "contact": (("about zero", "over 1 ohm above the leads"),),
    "header joints": (("bright and whole", "dark ring"),),
    "fuse out": (("under 1 ohm", "open"),),
    "rails and fuses": (("about 0 V across the fuse", "full supply across the fuse"),),
    "behind a fuse": (("open", "about zero"),),
    "transistor": (("one way, as on the like one", "OL both ways though the like one conducts"),),
    "shorted driver": (("one way, OL the other", "under 0.1 V"),),
    "before a new driver": (("in order", "is not"),),
    "logic probe": (("it pulses like its neighbours", "no pulses, though its neighbours pulse"),),
    "logic probe at a coil latch": (("it pulses like its neighbours", "no pulses, though its neighbours pulse"),),
    "input pin": (("the output changes with it", "its output never changes"),),
    "whole chip": (("its outputs move", "no output of"), ("the output changes with it", "no output changes")),
    "swap like chips": (("stays where it is", "moves to"),),
    "part across": (("what is marked on it", "more than is marked"),),
    "listen to a relay": (
        ("it clicks", "silent though its rated volts"),
        ("it rests", "stays pulled with the power off"),
    ),
    "relay contacts": (("about zero when pressed", "open when pressed"), ("open: OL", "about zero")),
    "unplug and look": (("no longer shows", "still shows"),),
    "string commanded off": (("none", "full supply"),),
    "volts at a lug": (("none", "another wire feeds it"),),
    "board pin in test mode": (
        ("shows", "nothing shows"),
        ("lights or flickers", "stays dark"),
        ("no other switch", "show as well"),
        ("like its neighbours", "unlike its neighbours"),
        ("dark unless", "lit all the time"),
    ),
    "bridge an input": (("shows", "nothing shows"),),
    "swap like plugs": (("stay dead", "they work"),),
    "compare with neighbours": (("like its neighbours", "odd one out"),),
    "unplug and try again": (("nothing shows", "still shows"), ("no longer shows", "still shows")),
    "volts along a coil": (("the supply volts at all three", "lost on the way"),),
    "move a wire": (("stays dead", "fires"),),
    "first wire": (("about zero", "open"), ("about zero", "over 1 ohm")),
    "across the break": (("about zero", "open"), ("about zero", "over 1 ohm")),
    "volts along a string": (("the same volts", "none at"),),
    "wire to ground": (("open", "about zero"),),
    "string to ground": (("open", "about zero"),),
    "two wires": (("open", "about zero"), ("touches nothing", "bare copper")),
    "two strings": (("open", "about zero"),),
    "wire colours": (("its own line", "the other line"),),
    "wire to the other line": (("open", "about zero"),),
    "switch contacts": (
        ("OL the other", "OL or over 0.9 V both ways"),
        ("open, and under 5 ohms when pressed", "still open when pressed"),
        ("about zero at rest, open when actuated", "the same at rest and actuated"),
    ),
    "bridge a switch": (("pressing it shows it, as bridging does", "it shows when bridged, not when pressed"),),
    "light beam": (("flips when you block", "stays as it is"),),
    "stuck switch": (("open", "less than 10 kilohms"),),
    "swap a bulb": (("lights in the other socket", "stays dark in the other socket"),),
    "swap an LED": (("dark at rest: no fault", "glows at rest as well"),),
    "swap a ghosting LED": (("nothing is wrong", "glows as well"),),
    "wire off": (("open", "about zero"),),
    "wire off a coil": (("open", "about zero"),),
    "device across its lugs": (("% more or less", "over twice"), ("of a like coil", "over twice")),
    "coil, a lead off": (("% more or less", "over twice"), ("of a like coil", "over twice")),
    "coil value": (("within", "still outside"),),
    "diode": (("one way, OL the other", "OL both ways"),),
    "diode, leg lifted": (("one way, OL the other", "OL both ways"),),
    "look at a diode": (("points as theirs do", "points to the other lug"),),
}


@cache
def known() -> tuple[tuple[Layout, KnownCheck], ...]:
    layouts = [read_layout(path) for path in shipped().values()]
    return tuple((layout, each) for layout in layouts for each in every_check(layout).values())


def test_every_check_says_what_good_and_faulty_look_like_and_they_differ() -> None:
    assert set(EXPECTED) == set(check_minutes())
    for _, each in known():
        good, faulty = each.check.good, each.check.faulty
        assert any(healthy in good and bad in faulty for healthy, bad in EXPECTED[each.check.check]), each.check
        assert good != faulty
        assert next(name for name, _ in outcomes_of(each.check)) in ("Good if", "No fault if")


def test_no_plug_is_pulled_and_nothing_clipped_or_swapped_before_the_power_is_off() -> None:
    handling = re.compile(r"pull (the )?plug|\bclip a|bridge|swap|put a filament|take the own wire", re.IGNORECASE)
    seen = 0
    for _, each in known():
        handled = handling.search(each.check.do) if each.check.power else None
        if handled:
            seen += 1
            assert "Switch off" in each.check.do[: handled.start() + 8], each.check.do
            assert "switch on" in each.check.do[handled.start() :].casefold(), each.check.do
    assert seen > 50


def test_a_powered_check_with_a_plug_off_says_which_pins_and_what_else_the_plug_carries() -> None:
    for _, each in known():
        check = each.check
        if check.power and "Pull plug" in check.do and check.check != "unplug and try again":
            assert all(re.search(r"pin|ground|supply|header", point) for point in check.points), check.points
    tram = {each.check.code: each.check for layout, each in known() if layout.name == "Saltmarsh Tram"}
    assert "X13 also carries" in tram["board.inputs.r2"].do
    assert "neither pin carries lamp or coil volts" in tram["board.switches.r5"].do


def test_coil_latches_are_probed_with_the_coil_fuse_out() -> None:
    probed = [
        (Kind.COIL in kinds(layout, each), each.check)
        for layout, each in known()
        if each.check.check in ("logic probe", "logic probe at a coil latch", "whole chip", "swap like chips")
    ]
    assert sum(coils for coils, _ in probed) >= 16
    for coils, check in probed:
        assert ("Take the coil fuse out" in check.prepare) is coils, check


def kinds(layout: Layout, each: KnownCheck) -> set[Kind]:
    return {layout.matrix(cell.matrix).kind for fault in each.check.splits for cell in fault.cells}


def test_flash_lamps_get_the_caution_of_the_coil_supply() -> None:
    lamps = [
        each.check
        for layout, each in known()
        if (key := parse_cell(each.place, "")) and layout.cell(key).device == "flash lamp"
    ]
    assert len(lamps) > 10
    assert all("Measure the solenoid supply" in check.caution or check.hazard == "coil volts" for check in lamps)


def test_a_fuse_is_renewed_by_the_label_and_not_by_what_was_in_it() -> None:
    fuses = [each.check for _, each in known() if each.check.check == "fuse out"]
    assert fuses
    assert all("not what was in the holder" in check.caution for check in fuses)


def test_nothing_fires_a_coil_while_one_is_held_on() -> None:
    held = [each.check for _, each in known() if each.check.hazard == "coil stays on"]
    assert len(held) > 20
    assert not any(check.power for check in held)
    assert all("the coil fuse stays out until" in check.caution for check in held)


def test_a_check_that_is_made_with_the_power_off_measures_volts_first() -> None:
    for _, each in known():
        if not each.check.power:
            assert "Volts first, then ohms" in each.check.caution or "under 1 volt" in each.check.caution
