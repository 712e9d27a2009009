"""The state of a job: what each event does to it, what an undo undoes, and what a repair outdates."""

from __future__ import annotations

import json
from typing import cast

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec import convert
from msgspec.structs import replace
from record_case import BATCHES, LAYOUT, START, at, marked, read, recorded, state_after, withdrawal_of

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.problems import visible
from matrixcheck.layout.reading import Finding, Mark
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.events import (
    Deferred,
    Event,
    Found,
    Noted,
    Read,
    Repaired,
    RoundEnded,
    RoundPaced,
    RoundStarted,
    SafetyChecked,
    Withdrawn,
    body_of,
    event_from,
)
from matrixcheck.record.job_state import JobState
from matrixcheck.record.outdated import cells_touched
from matrixcheck.record.replay import advance, replay

CRAB, ROPE, BELL, GULL, TIDE = at(2, 2), at(2, 3), at(2, 4), at(1, 2), at(3, 2)
TROUGH = at(3, 1)


def crab_after(*events: Event | tuple[Event, ...]) -> Standing:
    """How the switch `crab` stands after the events."""
    return state_after(*events).standings[CRAB]


def test_a_new_job_has_every_fitted_cell_untested() -> None:
    state = state_after()
    assert len(state.standings) == sum(len(matrix.fitted) for matrix in LAYOUT.matrices) == 17
    assert {standing.mark for standing in state.standings.values()} == {Mark.UNTESTED}


@pytest.mark.parametrize(
    ("event", "mark"),
    [
        (read(CRAB, [CRAB]), Mark.WORKING),
        (read(CRAB, [CRAB, ROPE]), Mark.WORKING),
        (read(CRAB, [ROPE]), Mark.DEAD),
        (read(CRAB, []), Mark.DEAD),
        (marked(CRAB, Mark.DEAD), Mark.DEAD),
        (marked(CRAB, Mark.STUCK), Mark.STUCK),
        (read(CRAB, ohms=4.1), Mark.UNTESTED),
        (read(CRAB, blew=True), Mark.UNTESTED),
        (read(None, [CRAB]), Mark.STUCK),
        (read(None, [ROPE]), Mark.UNTESTED),
        (read(None, [CRAB], held=[ROPE]), Mark.UNTESTED),
        (read(ROPE, [ROPE, CRAB]), Mark.UNTESTED),
    ],
)
def test_the_mark_of_a_cell_follows_from_its_reading(event: Event, mark: Mark) -> None:
    assert crab_after(event).mark is mark


def test_the_latest_reading_gives_the_mark() -> None:
    assert crab_after(read(CRAB, []), read(CRAB, [CRAB])).mark is Mark.WORKING
    assert crab_after(read(CRAB, [CRAB]), read(CRAB, [])).mark is Mark.DEAD


@pytest.mark.parametrize("order", [1, -1])
@pytest.mark.parametrize("held", [[], [BELL]])
def test_a_cell_that_shows_without_being_exercised_is_never_working(order: int, held: list[CellKey]) -> None:
    events = [read(None, [CRAB, *held], held=held), read(CRAB, [CRAB, *held], held=held)]
    assert crab_after(*events[::order]).mark is Mark.STUCK


def test_a_scan_under_other_held_switches_does_not_make_a_cell_stuck() -> None:
    assert crab_after(read(None, [CRAB, BELL], held=[BELL]), read(CRAB, [CRAB])).mark is Mark.WORKING


def test_a_switch_that_rests_closed_is_not_stuck_by_showing_at_rest() -> None:
    assert state_after(read(None, [TROUGH])).standings[TROUGH].mark is Mark.UNTESTED
    assert state_after(read(None, [TROUGH]), read(TROUGH, [TROUGH])).standings[TROUGH].mark is Mark.WORKING
    assert state_after(read(TROUGH, [])).standings[TROUGH].mark is Mark.DEAD


def test_a_later_scan_that_shows_the_cell_no_more_lifts_only_what_scans_said() -> None:
    stuck, free = read(None, [CRAB]), read(None, [])
    assert crab_after(stuck, free).mark is Mark.UNTESTED
    assert crab_after(read(CRAB, [CRAB]), stuck, free).mark is Mark.WORKING
    assert crab_after(read(CRAB, []), free).mark is Mark.DEAD
    assert crab_after(stuck, free).intermittent


def test_a_later_mark_overrules_an_earlier_scan() -> None:
    assert crab_after(read(None, [CRAB]), marked(CRAB, Mark.WORKING)).mark is Mark.WORKING


def test_echoes_and_misreports_are_told_apart() -> None:
    assert crab_after(read(CRAB, [CRAB, ROPE])).echoed == (ROPE,)
    assert crab_after(read(CRAB, [CRAB, ROPE])).answered_instead == ()
    assert crab_after(read(CRAB, [ROPE])).answered_instead == (ROPE,)
    assert crab_after(read(CRAB, [ROPE])).echoed == ()


def test_what_shows_anyway_is_no_echo() -> None:
    assert crab_after(read(None, [ROPE]), read(CRAB, [CRAB, ROPE])).echoed == ()
    assert crab_after(marked(ROPE, Mark.STUCK), read(CRAB, [CRAB, ROPE])).echoed == ()
    assert crab_after(read(CRAB, [CRAB, BELL], held=[BELL])).echoed == ()


def test_a_switch_that_rests_closed_is_an_echo_only_where_no_scan_showed_it_at_rest() -> None:
    typed = read(CRAB, [CRAB, TROUGH])
    assert crab_after(typed).echoed == (TROUGH,)
    assert crab_after(read(None, []), typed).echoed == (TROUGH,)
    assert crab_after(read(None, [TROUGH]), typed).echoed == ()
    assert crab_after(read(None, [TROUGH, ROPE]), typed, Repaired(place="Q3")).echoed == ()


def test_a_lamp_keeps_what_glowed_faintly_and_what_was_measured() -> None:
    red, amber = at(1, 1, "lamps"), at(1, 2, "lamps")
    standing = state_after(read(red, [red], faint=[amber]), read(red, ohms=7.5)).standings[red]
    assert (standing.faint, standing.ohms, standing.count) == ((amber,), 7.5, 2)
    assert standing.mark is Mark.WORKING


@pytest.mark.parametrize(
    ("events", "intermittent"),
    [
        ([read(CRAB, [CRAB]), read(CRAB, [])], True),
        ([marked(CRAB, Mark.DEAD), read(CRAB, [CRAB])], True),
        ([read(CRAB, []), read(CRAB, [ROPE])], False),
        ([read(CRAB, [CRAB]), read(CRAB, ohms=3)], False),
        ([read(CRAB, []), read(CRAB, [CRAB, BELL], held=[BELL])], False),
        ([read(CRAB, [CRAB]), Repaired(place="Q2"), read(CRAB, [])], False),
        ([read(CRAB, [CRAB]), Repaired(place="Q1"), read(CRAB, [])], True),
    ],
)
def test_contradiction_without_a_repair_between_is_intermittent(events: list[Event], intermittent: bool) -> None:
    assert crab_after(*events).intermittent is intermittent


def test_a_deferral_stands_until_the_cell_is_exercised() -> None:
    assert crab_after(Deferred(cell=CRAB, reason="glass off")).deferred == "glass off"
    assert crab_after(Deferred(cell=CRAB), read(CRAB, ohms=3)).deferred == ""
    assert crab_after(Deferred(cell=CRAB), read(CRAB, [])).deferred is None
    assert crab_after(read(CRAB, []), Deferred(cell=CRAB)).mark is Mark.DEAD


@pytest.mark.parametrize("place", ["Q2", "X5", "X5-2", "U4", "U4-2", "switches.c2", "switches.r2", "switches.r2c2"])
def test_a_repair_on_its_path_makes_a_cell_due_and_untested(place: str) -> None:
    standing = crab_after(read(CRAB, [CRAB]), Repaired(place=place))
    assert (standing.retest_due, standing.mark, standing.before_repair) == (place, Mark.UNTESTED, Mark.WORKING)
    assert standing.seen == ()
    assert standing.last_at is not None


@pytest.mark.parametrize("place", ["Q1", "X5-1", "U7", "switches.c1", "switches.r1c2", "F2"])
def test_a_repair_elsewhere_leaves_a_cell_as_it_was(place: str) -> None:
    standing = crab_after(read(CRAB, [CRAB]), Repaired(place=place))
    assert (standing.retest_due, standing.mark) == (None, Mark.WORKING)


def test_a_cell_that_was_never_tested_is_not_due() -> None:
    assert crab_after(Repaired(place="Q2")).retest_due is None
    assert crab_after(read(CRAB, ohms=3), Repaired(place="Q2")).retest_due is None


def test_a_new_reading_ends_the_retest() -> None:
    standing = crab_after(read(CRAB, []), Repaired(place="Q2"), read(CRAB, [CRAB]))
    assert (standing.retest_due, standing.mark, standing.before_repair) == (None, Mark.WORKING, None)


def test_a_measurement_does_not_end_the_retest() -> None:
    assert crab_after(read(CRAB, []), Repaired(place="Q2"), read(CRAB, ohms=3)).retest_due == "Q2"


@pytest.mark.parametrize(
    ("event", "due"),
    [
        (read(GULL, [GULL]), False),
        (read(GULL, [GULL, ROPE]), True),
        (read(GULL, [ROPE]), True),
        (read(GULL, [GULL], held=[ROPE]), False),
        (read(GULL, [GULL, ROPE], held=[ROPE]), False),
        (read(GULL, [GULL, TROUGH]), False),
    ],
)
def test_a_reading_that_told_of_a_repaired_cell_is_outdated_too(event: Event, due: bool) -> None:
    state = state_after(event, Repaired(place="Q3"), Repaired(place="Q1"))
    assert (state.standings[GULL].retest_due == "Q3") is due
    assert (state.current == ()) is due


def test_a_repair_outdates_the_rest_scans_that_showed_what_it_touches() -> None:
    scan = read(None, [CRAB, ROPE])
    assert state_after(scan, Repaired(place="Q1")).rest_scans
    assert state_after(scan, Repaired(place="switches.r1c1")).rest_scans
    assert state_after(scan, Repaired(place="F2")).rest_scans
    after = state_after(scan, Repaired(place="Q3"))
    assert after.rest_scans == ()
    assert after.standings[CRAB].retest_due == after.standings[ROPE].retest_due == "Q3"
    assert state_after(read(None, [TROUGH]), Repaired(place="Q1")).rest_scans


def test_a_cell_is_not_called_working_because_the_scan_that_showed_it_stuck_is_outdated() -> None:
    stuck = [read(None, [CRAB, ROPE]), read(CRAB, [CRAB])]
    standing = crab_after(*stuck, Repaired(place="Q3"))
    assert (standing.mark, standing.before_repair) == (Mark.UNTESTED, Mark.STUCK)
    assert crab_after(*stuck, Repaired(place="Q1")).mark is Mark.STUCK


def test_current_readings_are_neither_withdrawn_nor_outdated() -> None:
    events = [read(CRAB, []), read(None, [CRAB]), read(ROPE, []), Repaired(place="Q2"), read(CRAB, [CRAB])]
    state = state_after(*events, Noted(text="x"))
    assert [(reading.cell, reading.answered) for reading in state.current] == [(ROPE, ()), (CRAB, (CRAB,))]


def test_a_scan_that_was_made_again_after_a_repair_speaks_alone() -> None:
    quiet, again = read(None, []), read(None, [CRAB])
    state = state_after(quiet, Repaired(place="Q2"), again)
    assert [reading.answered for reading in state.current] == [(CRAB,)]
    assert not state.standings[CRAB].intermittent
    assert len(state_after(quiet, read(None, [BELL], held=[BELL]), Repaired(place="Q2"), again).current) == 2
    assert len(state_after(quiet, again).current) == 2


def test_findings_hold_until_their_place_is_checked_again_or_repaired() -> None:
    def found(place: str, verdict: str) -> Found:
        return Found(finding=convert({"place": place, "verdict": verdict}, Finding))

    assert [one.verdict for one in state_after(found("Q2", "good"), found("Q2", "faulty")).findings] == ["faulty"]
    assert state_after(found("X5-2", "faulty"), Repaired(place="X5")).findings == ()
    assert state_after(found("X5-2", "faulty"), Repaired(place="X6")).findings
    assert state_after(found("Q2", "faulty"), Repaired(place="Q2")).known == (Finding(place="Q2", verdict="replaced"),)
    assert state_after(Repaired(place="Q2"), found("Q2", "faulty")).known == (Finding(place="Q2", verdict="faulty"),)


def test_rounds_open_and_close() -> None:
    begun = RoundStarted(matrix="switches", round="hold", held=(CRAB,))
    open_round = state_after(begun).round
    assert open_round is not None
    assert (open_round.kind, open_round.held, open_round.seq) == ("hold", (CRAB,), 2)
    assert state_after(begun, RoundEnded()).round is None


def test_a_walk_keeps_its_cells_its_manner_and_its_timing_until_it_ends() -> None:
    begun = RoundStarted(matrix="switches", round="walk", cells=(CRAB, ROPE), manner="paced")
    first, last = RoundPaced(seconds=2.0, place=1), RoundPaced(seconds=2.0, place=4, paused=True)
    walk = state_after(begun, first, last).round
    assert walk is not None
    assert walk.pace is not None
    assert (walk.cells, walk.manner, walk.seq) == ((CRAB, ROPE), "paced", 2)
    assert (walk.pace.seconds, walk.pace.place, walk.pace.paused) == (2.0, 4, True)
    assert state_after(begun, first, RoundStarted(matrix="switches", round="walk")).round.pace is None
    assert state_after(first).round is None


def test_a_round_of_a_book_from_before_rounds_had_cells_goes_through_all() -> None:
    old = event_from("round-started", '{"matrix":"switches","round":"walk"}')
    assert old == RoundStarted(matrix="switches", round="walk", cells=(), manner="stepped")
    assert body_of(old) == '{"matrix":"switches","round":"walk"}'


def test_safety_checks_and_notes_are_kept_in_order() -> None:
    state = state_after(SafetyChecked(item="earth pin", passed=False), Noted(text="a"), Noted(text="b"))
    assert [(one.item, one.passed) for one in state.safety] == [("earth pin", False)]
    assert [one.text for one in state.notes] == ["a", "b"]


def test_the_cells_of_a_part_come_from_every_matrix_that_it_serves() -> None:
    assert {key.matrix for key in cells_touched(LAYOUT, "F2")} == {"lamps"}
    assert cells_touched(LAYOUT, "switches.c2") == {GULL, CRAB, TIDE}
    assert cells_touched(LAYOUT, "Q9") == cells_touched(LAYOUT, "switches.r9c9") == frozenset()


def test_a_history_that_does_not_begin_with_an_opening_is_refused() -> None:
    with pytest.raises(ValueError, match="begin with its opening"):
        replay(recorded(Noted(text="x"))[1:])
    with pytest.raises(ValueError, match="begin with its opening"):
        replay([])


def _same(state: JobState) -> JobState:
    return replace(state, seq=0, struck=())


@given(st.lists(BATCHES, max_size=12), BATCHES)
def test_an_undo_gives_back_the_state_before(before: list[tuple[Event, ...]], last: tuple[Event, ...]) -> None:
    events = recorded(*before, last)
    after = advance(replay(events), [withdrawal_of(events, events[-1].batch)])
    assert _same(after) == _same(state_after(*before))


@given(st.lists(BATCHES, min_size=1, max_size=10), st.data())
def test_withdrawing_any_batch_leaves_the_others_as_if_it_had_never_been(
    batches: list[tuple[Event, ...]], data: st.DataObject
) -> None:
    events = recorded(*batches)
    batch = data.draw(st.sampled_from([one.batch for one in events[1:]]))
    after = advance(replay(events), [withdrawal_of(events, batch)])
    assert _same(after) == _same(replay([one for one in events if one.batch != batch]))


@given(st.lists(BATCHES, max_size=8))
def test_undoing_repeatedly_walks_back_to_the_opening(batches: list[tuple[Event, ...]]) -> None:
    events = recorded(*batches)
    state, seq = replay(events), events[-1].seq
    while (batch := state.last_undoable) is not None:
        seq += 1
        state = advance(state, [events[0]._replace(seq=seq, batch=seq, event=Withdrawn(batch=batch))])
    assert {standing.mark for standing in state.standings.values()} == {Mark.UNTESTED}
    assert all(not one.event.undoable for one in state.history)


@given(st.lists(BATCHES, max_size=10), st.integers(0, 30), st.data())
def test_folding_on_equals_folding_from_scratch(
    batches: list[tuple[Event, ...]], cut: int, data: st.DataObject
) -> None:
    events = recorded(*batches)
    for _ in range(data.draw(st.integers(0, 2))):
        events += (withdrawal_of(events, data.draw(st.sampled_from([one.batch for one in events[1:]] or [99]))),)
    state = replay(events[: cut + 1])
    for one in events[cut + 1 :]:
        state = advance(state, [one])
    assert state == replay(events)


@given(st.lists(BATCHES, max_size=10))
def test_a_cell_that_nobody_exercised_or_saw_is_never_working(batches: list[tuple[Event, ...]]) -> None:
    events = recorded(*batches)
    exercised = {one.event.reading.cell for one in events if isinstance(one.event, Read)}
    for key, standing in replay(events).standings.items():
        assert standing.mark is not Mark.WORKING or key in exercised
        assert standing.retest_due is None or standing.mark is Mark.UNTESTED


@given(st.lists(BATCHES, max_size=10))
def test_what_stands_rests_on_current_readings_only(batches: list[tuple[Event, ...]]) -> None:
    state = replay(recorded(*batches))
    spoken = {reading.cell for reading in state.current}
    seen_at_rest = {key for scan in state.rest_scans for key in scan.reading.answered or ()}
    for key, standing in state.standings.items():
        assert standing.mark is Mark.UNTESTED or key in spoken or key in seen_at_rest
        assert (key in state.at_rest[key.matrix].stuck) is (standing.mark is Mark.STUCK)


def test_the_opening_time_is_the_first_events() -> None:
    assert (state_after().opened_at - START).total_seconds() == 1


@pytest.mark.parametrize(
    "event",
    [
        RoundPaced(seconds=0.0, place=0),
        RoundPaced(seconds=2.0, place=-1),
        RoundPaced(seconds=float("inf"), place=0),
        Noted(text=cast(str, 3)),
        Repaired(place=cast(str, None)),
    ],
)
def test_an_event_that_no_journal_could_give_back_is_not_put_into_one(event: Event) -> None:
    with pytest.raises(ValueError, match=r"\$\.|back"):
        body_of(event)


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("note", '{"text":3}'),
        ("note", '{"text":"x","more":1}'),
        ("note", "{}"),
        ("note", '{"text":"x"'),
        ("reading", '{"reading":{"matrix":"m","mark":"well"}}'),
        ("reading", '{"reading":{"matrix":"m","cell":["m",1]}}'),
        ("round-paced", '{"seconds":0,"place":0}'),
        ("job-opened", '{"name":"x","layout":{"format":2,"name":"x"}}'),
    ],
)
def test_a_body_that_is_not_as_its_kind_has_it_is_refused(kind: str, body: str) -> None:
    with pytest.raises(ValueError, match=r"\S"):
        event_from(kind, body)


@given(st.text())
def test_no_text_of_a_book_steers_a_terminal_and_others_stay_as_they_are(text: str) -> None:
    """Also in a book that another program wrote, whatever escapes its JSON uses."""
    for body in (json.dumps({"text": text}), json.dumps({"text": text}, ensure_ascii=False), body_of(Noted(text=text))):
        read = event_from("note", body)
        assert isinstance(read, Noted)
        assert read.text == visible(text)
