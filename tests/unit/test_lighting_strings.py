"""Lighting strings: a fed string lights as a whole; what lists of lamps say of it, and what they leave out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import pytest
from msgspec.structs import replace

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.machine.rates_file import rates_of
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.reading import Mark, Reading

TEXT = """
format = 1
name = "three strings"
[[matrix]]
id = "strings"
kind = "lamp"
rows_shared = false
numbering = "column-then-row"
cells = [["a1", "b1", "c1"], ["a2", "b2", "c2"], ["a3", "b3", "c3"], ["a4", "b4", ""]]
  [[matrix.column]]
  path = ["K2", "X1-1"]
  supply = ["F1"]
  [[matrix.column]]
  path = ["K2", "X2-1"]
  supply = ["F2"]
  [[matrix.column]]
  path = ["K3", "X3-1"]
  supply = ["F3"]
"""
ONE_RELAY = TEXT.replace('"K3"', '"K2"')
NO_RELAY = TEXT.replace('"K2", ', "").replace('"K3", ', "")
ONE_OF_THREE = TEXT.replace('"K2", ', "")


@pytest.fixture(scope="module")
def layout() -> Layout:
    return parse_layout(TEXT, "strings.toml")


def asked(layout: Layout) -> list[Reading]:
    cells = [None, *(cell.key for cell in layout.matrix("strings").fitted)]
    return [Reading(matrix="strings", cell=key) for key in cells]


def listed(layout: Layout, *faults: str) -> list[Reading]:
    return list(predict(layout, [parse_fault(fault, layout) for fault in faults], asked(layout)))


def first(layout: Layout, readings: Sequence[Reading]) -> set[str]:
    """The classes and places of the best explanation's members."""
    found = diagnose(layout, readings)
    members = [fault for name in found.explanations[0].suspects for fault in found.suspect(name).members]
    return {f"{fault.fault} {fault.part or ' '.join(map(str, fault.lines or fault.cells))}" for fault in members}


def test_a_fed_string_lights_as_a_whole_and_the_others_stay_dark(layout: Layout) -> None:
    rest, *lit = listed(layout)
    assert rest.answered == ()
    for reading in lit:
        assert reading.cell is not None
        assert {cell.column for cell in reading.answered or ()} == {reading.cell.column}
        assert len(reading.answered or ()) == len(layout.matrix("strings").cells_of(_column(layout, reading)))


def _column(layout: Layout, reading: Reading) -> LineKey:
    assert reading.cell is not None
    return next(line for line in layout.matrix("strings").lines if line.place == reading.cell.column)


@pytest.mark.parametrize(
    ("fault", "named"),
    [
        ("stuck-on:strings.c3", "stuck-on strings.c3"),
        ("shorted-together:strings.c1:strings.c3", "shorted-together strings.c1 strings.c3"),
        ("crossed:strings.c1:strings.c2", "crossed strings.c1 strings.c2"),
        ("device-stuck:strings.r2c1", "device-stuck strings.r2c1"),
        ("relay-stuck:K2:rest", "relay-stuck K2"),
        ("relay-stuck:K2:pulled", "relay-stuck K2"),
        ("fuse-blown:F3", "fuse-blown F3"),
    ],
)
def test_a_fault_of_a_string_is_named(layout: Layout, fault: str, named: str) -> None:
    assert named in first(layout, listed(layout, fault))


def test_a_relay_weighs_against_two_open_strings_as_the_rates_of_all_that_fit_say(layout: Layout) -> None:
    """The oracle predicts every fault and every pair: what looks like another fault alone counts once, not twice."""
    readings = listed(layout, "relay-stuck:K2:rest")
    odds = {each.fault: each.rate / (1 - each.rate) for each in candidates(layout)}

    def fits(*faults: Fault) -> bool:
        return list(predict(layout, faults, asked(layout))) == readings

    alone = {fault for fault in odds if fits(fault)}
    pairs = [(one, two) for one, two in combinations(odds, 2) if not {one, two} & alone and fits(one, two)]
    one, two = sum(odds[fault] for fault in alone), sum(odds[one] * odds[two] for one, two in pairs)
    found = diagnose(layout, readings)
    relay = next(each for each in found.suspects if each.members[0].fault is FaultClass.RELAY_STUCK)
    # The rest is what may be there besides without changing a reading, which the oracle leaves out.
    assert relay.probability == pytest.approx(one / (one + two), abs=0.03)


def test_lamps_that_nobody_lists_beside_the_judged_one_are_not_taken_for_dark(layout: Layout) -> None:
    own = [
        replace(reading, answered=tuple(cell for cell in reading.answered or () if cell == reading.cell))
        for reading in listed(layout)
    ]
    assert first(layout, own) == set()


def test_lighting_that_nothing_switches_off_is_no_fault(layout: Layout) -> None:
    everything = tuple(cell.key for cell in layout.matrix("strings").fitted)
    always = [replace(reading, answered=everything) for reading in asked(layout)]
    assert first(layout, always) == set()


def always_lit(text: str, *dark: str) -> tuple[Layout, list[Reading]]:
    """A layout, and lists of all its lamps but those that are `dark`, whatever is commanded."""
    layout = parse_layout(text, "strings.toml")
    lit = tuple(cell.key for cell in layout.matrix("strings").fitted if str(cell.key) not in dark)
    return layout, [replace(reading, answered=lit) for reading in asked(layout)]


@pytest.mark.parametrize("text", [NO_RELAY, ONE_OF_THREE], ids=["no relay", "one that feeds a part"])
def test_lighting_that_no_relay_is_known_to_switch_is_no_fault(text: str) -> None:
    assert first(*always_lit(text)) == set()


def test_one_relay_that_feeds_every_string_is_weighed_against_a_test_that_does_not_switch_it() -> None:
    found = diagnose(*always_lit(ONE_RELAY))
    best, second = found.explanations[:2]
    assert [(fault.fault, fault.part, fault.when) for fault in found.suspect(best.suspects[0]).members] == [
        (FaultClass.RELAY_STUCK, "K2", "pulled")
    ]
    assert len(best.suspects) == 1
    assert second.suspects == ()
    rates = shipped_rates()
    stuck = rates.part["relay"] + rates.part["relay drive"]
    assert best.probability / second.probability == pytest.approx(stuck / rates.reading.lighting_not_switched, rel=0.1)
    assert best.probability + second.probability > 0.9
    assert found.suspect(best.suspects[0]).says.endswith("; or it is good and the test doesn't switch this lighting.")


def test_a_relay_of_some_strings_is_not_excused_by_the_test(layout: Layout) -> None:
    found = diagnose(layout, listed(layout, "relay-stuck:K2:pulled"))
    assert "the test doesn't switch" not in found.suspect(found.explanations[0].suspects[0]).says


@pytest.mark.parametrize("source", ["the layout's rate of the relay", "the workshop's rate of such tests"])
def test_the_likelier_of_relay_and_test_comes_first(source: str) -> None:
    rates = rates_of(b'[reading]\n"lighting not switched" = 0.1\n', "own.toml")
    seldom = ONE_RELAY.replace("[[matrix]]", '[[part]]\nref = "K2"\nrate = 1e-5\n[[matrix]]', 1)
    of_layout = source == "the layout's rate of the relay"
    found = diagnose(*always_lit(seldom if of_layout else ONE_RELAY), rates=None if of_layout else rates)
    assert found.explanations[0].suspects == ()


def test_a_dark_lamp_is_named_beside_the_relay_that_keeps_all_strings_fed() -> None:
    """The lamp may as well be the last of its chain, which isn't known."""
    named = {"relay-stuck K2", "device-dead strings.r3c1", "break strings.c1"}
    assert first(*always_lit(ONE_RELAY, "strings.r3c1")) == named


def test_marks_of_some_lamps_beside_lists_say_the_same_as_lists() -> None:
    layout, readings = always_lit(ONE_RELAY)
    marked = [
        replace(reading, answered=None, mark=Mark.STUCK) if place % 4 == 1 else reading
        for place, reading in enumerate(readings)
    ]
    best, second = diagnose(layout, marked).explanations[:2]
    assert len(best.suspects) == 1
    assert second.suspects == ()
    assert best.probability / second.probability == pytest.approx(6.0, rel=0.1)


def test_no_exercise_is_proposed_to_tell_the_relay_from_a_test_that_does_not_switch_it() -> None:
    layout, readings = always_lit(ONE_RELAY)
    assert [test for test in diagnose(layout, readings).next if test.gain > 0] == []
    dark = always_lit(ONE_RELAY, "strings.r4c1")[1][:-1]
    assert not any("relay" in test.says for test in diagnose(layout, dark).next)


def test_a_dark_lamp_is_seen_where_the_other_lamps_of_its_string_are_listed(layout: Layout) -> None:
    """Even if nobody asked for it by its own number."""
    readings = [each for each in listed(layout, "device-dead:strings.r4c2") if str(each.cell) != "strings.r4c2"]
    assert "device-dead strings.r4c2" in first(layout, readings)
