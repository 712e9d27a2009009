"""What the analyser says: a plain sentence a suspect with its counts, one for the whole; never that all is well."""

from __future__ import annotations

import pytest
from diagnosis_case import machine
from syrupy.assertion import SnapshotAssertion

from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.result import (
    Fault,
    FaultClass,
    Searched,
)
from matrixcheck.diagnosis.words.sentences import (
    members_words,
    percent,
    search_caution,
    suspect_sentence,
)
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.machines import shipped_layout

LAYOUT = machine()
SWITCHES = LAYOUT.matrix("switches")

GROUPS = {
    "driver, contact or first wire": ["open:Q1", "open:X5-1", "open:switches.c1"],
    "parts by their place": ["open:switches.c3"],
    "an input by its place": ["open:switches.r3"],
    "driver known, contact not": ["open:switches.r2", "open:X6-2", "open:U7-3"],
    "a chip": ["open:U4"],
    "a plug or its only line": ["unplugged:X11", "open:X11-1"],
    "a plug of two matrices": ["unplugged:X5"],
    "two plugs swapped": ["plugs-swapped:X9:X10"],
    "a plug one pin off": ["plug-shifted:X5:1"],
    "a plug off, or one pin off": ["unplugged:X6", "plug-shifted:X6:1", "plug-shifted:X6:-1"],
    "break in a known chain": ["break:switches.c1:2"],
    "break with an untested cell between": ["break:switches.c1:1", "break:switches.c1:2"],
    "break before the last cell, or that cell": [
        "break:switches.c1:3",
        "device-dead:switches.4",
        "diode-open:switches.4",
    ],
    "break in an unknown chain": ["break:switches.c2:r2c2+r4c2"],
    "break in an unknown chain, several ways": ["break:switches.c2:r2c2+r4c2", "break:switches.c2:r1c2+r4c2"],
    "stuck driver or grounded wire": ["stuck-on:switches.c1", "grounded:switches.c1"],
    "stuck sensed row": ["stuck-on:switches.r3"],
    "live side of a bank": ["stuck-on:coils.c1"],
    "dead or grounded lamp column": ["open:Q11", "open:lamps.c1", "grounded:lamps.c1"],
    "grounded lamp column": ["grounded:lamps.c1"],
    "shorted together": ["shorted-together:switches.c1:switches.c2"],
    "crossed": ["crossed:switches.r1:switches.r3"],
    "dead switch": ["device-dead:switches.1", "diode-open:switches.1", "diode-reversed:switches.1"],
    "dead bulb": ["device-dead:lamps.1", "diode-open:lamps.1"],
    "dead LED": ["device-dead:lamps.2", "diode-open:lamps.2"],
    "dead coil": ["device-dead:coils.1"],
    "dead direct input": ["device-dead:inputs.3"],
    "dead lamp of a string": ["device-dead:lighting.4"],
    "stuck switch": ["device-stuck:switches.12"],
    "stuck lamp": ["device-stuck:lamps.1"],
    "stuck coil": ["device-stuck:coils.1"],
    "open diode alone": ["diode-open:switches.3"],
    "reversed diode alone": ["diode-reversed:switches.3"],
    "diode open or reversed": ["diode-open:switches.3", "diode-reversed:switches.3"],
    "shorted diode": ["diode-shorted:switches.3"],
    "relay at rest": ["relay-stuck:K1:rest"],
    "relay pulled in": ["relay-stuck:K1:pulled"],
    "fuse": ["fuse-blown:F2"],
    "fuse of a side, or its feed": ["fuse-blown:F3", "open:X11-1", "open:coils.c1"],
    "fuse of a string": ["fuse-blown:F7"],
    "keep-warm LEDs": ["keep-warm-glow:coils"],
    "keep-warm LEDs or a live side": ["keep-warm-glow:coils", "stuck-on:coils.c2"],
    "one keep-warm LED": ["keep-warm-glow:coils.4"],
    "wrong coil": ["wrong-device:coils.1"],
    "many of a kind": [f"shorted-together:switches.r{a}:switches.r{b}" for a, b in ((1, 2), (1, 3), (1, 4), (2, 3))],
}


def group(name: str) -> tuple[Fault, ...]:
    return tuple(parse_fault(text, LAYOUT) for text in GROUPS[name])


def sentence(members: tuple[Fault, ...], against: int = 0, left: int = 0) -> str:
    """The sentence of a group that explains all of its tested cells but `against`, with `left` untested."""
    cells = members[0].cells
    left = min(left, len(cells) - 1)
    tested = cells[: len(cells) - left]
    return suspect_sentence(
        LAYOUT,
        members,
        tested[against:] or tested,
        tested[:against] if len(tested) > against else (),
        cells[len(cells) - left :],
        readings=[Reading(matrix="coils", cell=CellKey("coils", 1, 1), ohms=2.33)],
    )


def test_every_sort_of_group_is_said_in_plain_words(snapshot: SnapshotAssertion) -> None:
    assert {name: sentence(group(name), against=1, left=1) for name in GROUPS} == snapshot


def test_the_groups_above_hold_every_fault_class() -> None:
    assert {fault.fault for name in GROUPS for fault in group(name)} == set(FaultClass)


@pytest.mark.parametrize("name", ["saltmarsh-tram", "switch-8x8", "coil-8x2"])
def test_every_single_fault_of_a_shipped_layout_is_one_short_sentence(name: str) -> None:
    layout = shipped_layout(name)
    faults = [*(fault for fault, _ in faults_of(layout)), *glow_faults(layout)]
    said = [suspect_sentence(layout, (fault,), fault.cells, (), ()) for fault in faults]
    assert [each for each in said if "\n" in each or not each.endswith(".") or len(each) > 190] == []
    assert sum(len(each) > 160 for each in said) < 0.03 * len(said)
    assert all(each[0].isupper() or each[0].isdigit() for each in said)


def test_the_counts_are_those_given() -> None:
    said = sentence(group("driver, contact or first wire"), against=1, left=2)
    assert "fits 1 result, 1 against, 2 untested" in said


def test_what_comes_and_goes_is_said_with_what_to_look_for() -> None:
    column = [cell.key for cell in SWITCHES.fitted if cell.key.column == 1]
    first = [Reading(matrix="switches", cell=cell, mark=Mark.DEAD) for cell in column]
    again = [Reading(matrix="switches", cell=cell, mark=Mark.WORKING) for cell in column[:2]]
    members = group("driver, contact or first wire")
    said = suspect_sentence(LAYOUT, members, column, (), (), readings=[*first, *again])
    assert "4 results, none against, none untested; 2 cells come and go: look for what is loose;" in said
    own = suspect_sentence(LAYOUT, group("dead switch"), column[:1], (), (), readings=[*first, *again])
    assert own.endswith("; it comes and goes.")
    assert "come" not in suspect_sentence(LAYOUT, members, column, (), (), readings=first)


def test_faults_on_the_same_cells_are_said_to_be_beyond_marks_and_others_by_what_tells_them_apart() -> None:
    assert sentence(group("stuck driver or grounded wire")).endswith("; testing can't split these: measure.")
    # The chain is 3, 1, 2, 4: only the cell between the two breaks, switch 1, tells them apart.
    assert sentence(group("break with an untested cell between")).endswith("; testing switch 1 narrows it.")


def test_no_single_fault_claims_to_be_one_of_several() -> None:
    assert not any("apart" in suspect_sentence(LAYOUT, (f,), f.cells, (), ()) for f, _ in faults_of(LAYOUT))


def test_a_break_is_placed_between_the_last_cell_that_works_and_the_first_that_does_not() -> None:
    said = members_words(LAYOUT, [parse_fault("break:switches.c1:1", LAYOUT)])
    assert said == "Switch column 1 (green-brown) is broken after switch 3 (coin door), before 1 (left outlane)"


def test_a_list_of_like_faults_is_cut_to_a_few() -> None:
    assert members_words(LAYOUT, group("many of a kind")).endswith("or 1 other fault of the same look")


def test_what_was_not_searched_comes_before_the_verdict_in_words(snapshot: SnapshotAssertion) -> None:
    reached = {
        "finished": Searched(exact=True, seconds=0.7),
        "little left": Searched(exact=False, seconds=0.7, gap=0.05),
        "much left": Searched(exact=False, seconds=0.7, gap=0.0501),
        "all may be left": Searched(exact=False, seconds=0.7, gap=1.0),
        "unknown": Searched(exact=False, seconds=0.7),
        "cut": Searched(exact=False, seconds=0.7012, gap=0.01, finished=False),
        "cut, exact": Searched(exact=True, seconds=12.34, finished=False),
        "cut, much left": Searched(exact=False, seconds=123.4, gap=0.3, finished=False),
        "cut, unknown": Searched(exact=False, seconds=2.0, finished=False),
    }
    said = {name: search_caution(searched) for name, searched in reached.items()}
    assert said == snapshot
    assert [name for name, words in said.items() if not words] == ["finished", "little left"]
    assert max(map(len, said.values())) <= 78


def test_no_probability_is_certain() -> None:
    assert [percent(value) for value in (0.0, 0.004, 0.01, 0.934, 0.99, 0.9951, 1.0)] == [
        "under 1 %",
        "under 1 %",
        "1 %",
        "93 %",
        "99 %",
        "over 99 %",
        "over 99 %",
    ]
