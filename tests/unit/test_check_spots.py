"""What the screen of checks lets one record: a place once for each kind of check that is proposed there."""

from __future__ import annotations

from record_case import state_after

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Suspect
from matrixcheck.layout.reading import Finding
from matrixcheck.record.events import Found
from matrixcheck.report.spots import Spot, place_known, spot_words, spots_of
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()


def suspect(*texts: str) -> Suspect:
    members = tuple(parse_fault(text, TRAM) for text in texts)
    return Suspect(id="s1", probability=0.9, members=members, explains=(), contradicts=(), untested=(), says="")


def spots(*texts: str) -> tuple[Spot, ...]:
    alike = suspect(*texts)
    return spots_of(alike, bench_checks(TRAM, [alike]))


def test_a_wire_that_may_be_open_or_grounded_stands_there_for_each_check_and_for_its_repair() -> None:
    """What measures whole may lie at ground all the same: one word on the wire would not do."""
    found = spots("open:switches.c3", "break:switches.c3:2", "grounded:switches.c3", "open:Q3")
    wire = [each.code for each in found if each.place == "switches.c3"]
    assert set(wire) == {"wire.switches.c3", "break.switches.c3.2", "ground.switches.c3", ""}
    assert found[-2:] == (Spot("switches.c3"), Spot("Q3"))
    assert all(spot_words(each, TRAM).startswith(each.code) for each in found)


def test_a_check_of_several_parts_is_of_no_single_place() -> None:
    found = spots("open:Q3", "open:U1-16", "open:X1-3")
    (board,) = [each for each in found if each.code == "board.switches.c3"]
    assert board.place == ""
    (contact,) = [each for each in found if each.code == "contact.X1-3"]
    assert contact.place == "X1-3"


def test_what_one_check_found_is_not_said_of_another() -> None:
    state = state_after(
        Found(finding=Finding(place="switches.c1", verdict="good", check="first wire", code="wire.switches.c1")),
        Found(finding=Finding(place="Q3", verdict="between", code="driver-open.Q3", value="1.2/1.2 volts")),
        Found(finding=Finding(place="U1", verdict="faulty")),
    )
    assert place_known(Spot("switches.c1", "wire.switches.c1"), state).startswith("found good")
    assert place_known(Spot("switches.c1", "ground.switches.c1"), state) == ""
    assert place_known(Spot("switches.c1"), state) == ""
    assert place_known(Spot("Q3", "driver-open.Q3"), state).startswith("found in between (1.2/1.2 volts)")
    assert place_known(Spot("U1"), state).startswith("found faulty")
