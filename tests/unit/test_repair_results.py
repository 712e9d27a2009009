"""What a repair is said to have cured: cells that failed before it and work after, none that was not tested again."""

from __future__ import annotations

from report_case import EVENTS, LAYOUT, at, seen, state_after, suspect

from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.reading import Finding
from matrixcheck.record.events import Found, JobOpened, Repaired
from matrixcheck.report.parts_to_buy import parts_to_buy
from matrixcheck.report.repair_results import findings_made, repair_results
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
OPENED = JobOpened(name="x", layout=LAYOUT)
DEAD = (seen(1, 2), seen(2, 2), seen(3, 2))
"""The three switches of column 2, dead."""


def test_what_failed_before_and_works_after_is_cured_and_the_rest_waits_or_fails() -> None:
    state = state_after(OPENED, *DEAD, Repaired(place="Q2", note="new"), seen(1, 2, at(1, 2)), seen(2, 2))
    (result,) = repair_results(state)
    assert (result.cured, result.failing, result.waiting) == ((at(1, 2),), (at(2, 2),), (at(3, 2),))
    assert result.failed == 3


def test_a_repair_answers_for_the_time_until_the_next_one_on_the_same_path() -> None:
    after = (seen(1, 2), seen(2, 2), seen(3, 2))
    works = (seen(1, 2, at(1, 2)), seen(2, 2, at(2, 2)), seen(3, 2, at(3, 2)))
    wrong, right = repair_results(
        state_after(OPENED, *DEAD, Repaired(place="Q2"), *after, Repaired(place="X5-2"), *works)
    )
    assert (wrong.cured, len(wrong.failing)) == ((), 3)
    assert (len(right.cured), right.failing, right.waiting) == (3, (), ())


def test_a_repair_elsewhere_does_not_end_the_time_of_another() -> None:
    works = (seen(1, 2, at(1, 2)), seen(2, 2, at(2, 2)), seen(3, 2, at(3, 2)))
    first, other = repair_results(state_after(OPENED, *DEAD, Repaired(place="Q2"), Repaired(place="Q1"), *works))
    assert len(first.cured) == 3
    assert other.failed == 0


def test_what_worked_before_is_nobodys_cure_and_nothing_is_made_up_for_unknown_places() -> None:
    result, unknown = repair_results(
        state_after(OPENED, seen(1, 2, at(1, 2)), Repaired(place="Q2"), Repaired(place="a belt"))
    )
    assert result.failed == unknown.failed == 0


def test_findings_that_a_repair_outdates_stay_in_the_report_and_beside_the_repair() -> None:
    found = Found(finding=Finding(place="Q2", verdict="faulty"), note="no diode")
    state = state_after(OPENED, *DEAD, found, Repaired(place="Q2"))
    assert state.findings == ()
    assert [(one.place, one.verdict, one.note) for one in findings_made(state)] == [("Q2", "faulty", "no diode")]
    (result,) = repair_results(state)
    assert result.found is not None
    assert result.found.note == "no diode"


def test_the_evenings_finding_is_named_once() -> None:
    assert [one.place for one in findings_made(state_after(*EVENTS))] == ["Q2"]


def test_parts_are_counted_by_kind_and_rating_and_the_sure_ones_come_first() -> None:
    lamps = [TRAM.matrix("lamps").by_number[number].key for number in (20, 63)]
    coil = TRAM.matrix("coils").by_number[6].key
    line = LineKey("switches", "column", 3)
    found = (
        suspect("s1", 0.99, "", member=Fault(fault=FaultClass.DEVICE_DEAD, cells=(lamps[0],))),
        suspect("s2", 0.98, "", member=Fault(fault=FaultClass.WRONG_DEVICE, cells=(coil,))),
        suspect("s3", 0.97, "", member=Fault(fault=FaultClass.FUSE_BLOWN, part="F7", lines=(line,))),
        suspect("s4", 0.4, "", member=Fault(fault=FaultClass.OPEN, part="Q3", lines=(line,))),
        suspect("s5", 0.03, "", member=Fault(fault=FaultClass.OPEN, part="U1-16", lines=(line,))),
        suspect("s6", 0.99, "", member=Fault(fault=FaultClass.OPEN, part="X1-3", lines=(line,))),
        suspect("s7", 0.99, "", member=Fault(fault=FaultClass.KEEP_WARM_GLOW, cells=(coil,))),
    )
    parts = parts_to_buy(TRAM, found)
    assert [(one.kind, one.rating, len(one.places), one.sure) for one in parts] == [
        ("bulb", "", 1, True),
        ("coil", "4.8 ohms", 1, True),
        ("fuse", "5 A T", 1, True),
        ("transistor", "", 1, False),
    ]
    second = TRAM.matrix("lamps").by_number[21].key
    other = suspect("s8", 0.99, "", member=Fault(fault=FaultClass.DEVICE_DEAD, cells=(second,)))
    second = TRAM.matrix("lamps").by_number[21].key
    other = suspect("s8", 0.99, "", member=Fault(fault=FaultClass.DEVICE_DEAD, cells=(second,)))
    twice = parts_to_buy(TRAM, (found[0], other))
    assert [len(one.places) for one in twice] == [2]


def test_what_was_done_stands_with_what_was_fitted_and_its_value() -> None:
    repair = Repaired(place="Q2", did="replaced", fitted="a new one", value="0.6 V", note="board 2")
    whole, bare = repair_results(state_after(OPENED, repair, Repaired(place="a belt", outside=True)))
    assert whole.done == "replaced; fitted a new one; 0.6 V; board 2"
    assert bare.done == "repaired"
    assert bare.failed == 0
