"""What the screen of checks lets one record: a place once for each kind of check that is proposed there."""

from __future__ import annotations

from record_case import state_after

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Suspect
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.events import Found
from matrixcheck.tui.text.checking import Spot, place_known, spot_words, spots_of

TRAM = read_layout(find_layout("saltmarsh-tram"))


def suspect(*texts: str) -> Suspect:
    members = tuple(parse_fault(text, TRAM) for text in texts)
    return Suspect(id="s1", probability=0.9, members=members, explains=(), contradicts=(), untested=(), says="")


def spots(*texts: str) -> tuple[Spot, ...]:
    alike = suspect(*texts)
    return spots_of(alike, bench_checks(TRAM, [alike]))


def test_a_wire_that_may_be_open_or_grounded_stands_there_for_each_check() -> None:
    """What measures whole may lie at ground all the same: one word on the wire would not do."""
    found = spots("open:switches.c3", "break:switches.c3:2", "grounded:switches.c3", "open:Q3")
    wire = [each for each in found if each.place == "switches.c3"]
    assert {each.check for each in wire} == {"first wire", "across the break", "wire to ground"}
    assert all(spot_words(each, found, TRAM).endswith(f", {each.check}") for each in wire)


def test_a_place_with_one_check_is_named_without_it() -> None:
    found = spots("open:Q3", "open:X1-3")
    assert Spot("X1-3", "contact") in found
    assert "contact" not in spot_words(Spot("X1-3", "contact"), found, TRAM)


def test_what_one_check_found_is_not_said_of_another() -> None:
    state = state_after(Found(finding=Finding(place="switches.c1", verdict="good", check="first wire")))
    assert place_known(Spot("switches.c1", "first wire"), state).startswith("found good")
    assert place_known(Spot("switches.c1", "wire to ground"), state) == ""
    assert place_known(Spot("switches.c1"), state).startswith("found good")
