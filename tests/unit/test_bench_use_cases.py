"""The use cases: what each records, what it answers, and what it refuses without recording anything."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from diagnosis_case import machine
from hypothesis import given
from hypothesis import strategies as st
from record_case import LAYOUT, START, at

from matrixcheck.bench import Bench
from matrixcheck.errors import InputError, MatrixCheckError, UsageError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.ids import short_ids
from matrixcheck.record.readings import read_readings
from matrixcheck.record.validation import one_line

BANK = machine()
CRAB, ROPE, BELL, GULL, TROUGH = at(2, 2), at(2, 3), at(2, 4), at(1, 2), at(3, 1)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    ticks = (START + timedelta(seconds=count) for count in range(10_000))
    bench = Bench(tmp_path / "bench.book", clock=lambda: next(ticks))
    yield bench
    bench.close()


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(LAYOUT, "lighthouse", serial="0417", owner="the harbour")


def last(bench: Bench, job: str) -> Reading:
    """The reading kept last."""
    return bench.state(job).current[-1]


def test_a_new_job_is_listed_with_its_machine_and_coverage(bench: Bench, job: str) -> None:
    (summary,) = bench.jobs()
    assert (summary.id, summary.name, summary.serial, summary.owner) == (job, "lighthouse", "0417", "the harbour")
    assert summary.machine == "Lantern Pier"
    assert list(summary.coverage) == ["switches", "lamps", "coils"]
    assert (summary.coverage["switches"].untested, summary.coverage["switches"].total) == (10, 10)


def test_ids_are_short_and_differ_and_hold_nothing_that_looks_alike(bench: Bench) -> None:
    ids = [bench.new_job(LAYOUT, "again") for _ in range(30)]
    assert len(set(ids)) == 30
    assert {len(one) for one in ids} == {4}
    assert not set("".join(ids)) & set("01ilouaey")


def test_an_id_already_taken_is_passed_over() -> None:
    assert len({one for _, one in zip(range(50), short_ids("same"), strict=False)}) == 50


def test_any_unambiguous_start_of_an_id_names_the_job(bench: Bench, job: str) -> None:
    others = [bench.new_job(LAYOUT, "again") for _ in range(40)]
    for one in [job, *others]:
        assert bench.state(one.upper()).id == one
    shortest = next(job[:size] for size in range(1, 5) if not any(one.startswith(job[:size]) for one in others))
    assert bench.state(shortest).id == job


@pytest.mark.parametrize("wanted", ["", "  ", "zzzzz", "lighthouse"])
def test_an_unknown_job_is_refused(bench: Bench, job: str, wanted: str) -> None:
    assert bench.state(job)
    with pytest.raises(UsageError, match="no job"):
        bench.state(wanted)


def test_an_ambiguous_start_names_the_jobs_it_could_be(bench: Bench) -> None:
    ids = [bench.new_job(LAYOUT, "again") for _ in range(60)]
    start = next(one[0] for one in ids if sum(other[0] == one[0] for other in ids) > 1)
    with pytest.raises(UsageError, match="could be any of"):
        bench.state(start)


def test_an_empty_bench_says_how_to_open_a_job(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="holds none: open one with `job new`"):
        Bench(tmp_path / "bench.book").state("abcd")


def test_what_was_kept_says_how_the_cell_stands_and_stood(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "5-")
    (kept,) = bench.mark(job, "switches", "5")
    assert (kept.cell, kept.number, kept.name, kept.mark, kept.before) == (
        CRAB,
        5,
        "crab",
        Mark.WORKING,
        Mark.DEAD,
    )
    assert kept.seq == 3


def test_a_line_is_kept_whole_or_not_at_all(bench: Bench, job: str) -> None:
    with pytest.raises(InputError):
        bench.mark(job, "switches", "5 8- 99")
    assert bench.state(job).current == ()
    assert len(bench.mark(job, "switches", "5 8- 11.")) == 3


SWITCH_ENTRIES = [
    ("5", (CRAB,), None),
    ("5+8", (CRAB, ROPE), None),
    ("5/8", (ROPE,), None),
    ("5/8+4", (GULL, ROPE), None),
    ("5-", None, Mark.DEAD),
    ("5*", None, Mark.STUCK),
]


@pytest.mark.parametrize(("text", "answered", "mark"), SWITCH_ENTRIES)
def test_on_switches_an_entry_tells_all_that_answered(
    bench: Bench, job: str, text: str, answered: tuple[CellKey, ...] | None, mark: Mark | None
) -> None:
    bench.mark(job, "switches", text)
    assert last(bench, job) == Reading(matrix="switches", cell=CRAB, answered=answered, mark=mark)


@pytest.mark.parametrize(
    ("text", "answered", "mark"),
    [("21", None, Mark.WORKING), ("21-", None, Mark.DEAD), ("21+22", (21, 22), None), ("21/22", (22,), None)],
)
def test_on_lamps_a_tick_is_a_mark_alone(
    bench: Bench, job: str, text: str, answered: tuple[int, ...] | None, mark: Mark | None
) -> None:
    bench.mark(job, "lamps", text)
    numbers = LAYOUT.matrix("lamps").by_number
    expected = None if answered is None else tuple(numbers[number].key for number in answered)
    assert last(bench, job) == Reading(matrix="lamps", cell=numbers[21].key, answered=expected, mark=mark)


def test_a_resistance_says_nothing_of_the_mark(bench: Bench, job: str) -> None:
    (kept,) = bench.mark(job, "coils", "1=4,2")
    assert kept.mark is Mark.UNTESTED
    assert last(bench, job) == Reading(matrix="coils", cell=CellKey("coils", 1, 1), ohms=4.2)


def test_later_takes_its_reason_from_the_layouts_reach(bench: Bench, job: str) -> None:
    kept = bench.mark(job, "switches", "11. 5.")
    assert [one.deferred for one in kept] == ["glass off", ""]


def test_what_stands_stuck_or_rests_closed_is_filled_in(bench: Bench, job: str) -> None:
    bench.rest_scan(job, "switches", "3 4 9")
    bench.mark(job, "switches", "8*")
    bench.mark(job, "switches", "5")
    assert set(last(bench, job).answered or ()) == {CRAB, ROPE, TROUGH, GULL, at(3, 3)}
    assert bench.state(job).standings[CRAB].echoed == ()
    bench.mark(job, "switches", "4-")
    bench.mark(job, "switches", "2")
    assert GULL not in (last(bench, job).answered or ())


@pytest.mark.parametrize("first", ["4*", "", "5 4*"])
def test_an_led_on_a_keep_warm_resistor_glows_on_whatever_its_own_command_does(bench: Bench, first: str) -> None:
    """Until a later look at rest finds it dark."""
    job = bench.new_job(BANK, "invented ferry")
    if first:
        bench.mark(job, "coils", first)
    else:
        bench.rest_scan(job, "coils", "4")
    glowing = CellKey("coils", 1, 2)
    for typed in ("4/1", "4+1", "4"):
        bench.mark(job, "coils", typed)
        bench.mark(job, "coils", "6/3")
        assert last(bench, job).answered == (glowing, CellKey("coils", 3, 1))
    bench.rest_scan(job, "coils", "")
    bench.mark(job, "coils", "6/3")
    assert last(bench, job).answered == (CellKey("coils", 3, 1),)


def test_in_a_hold_round_its_rest_scan_fills_in_what_the_held_switches_show(bench: Bench, job: str) -> None:
    bench.start_round(job, "switches", "hold", [ROPE, BELL])
    bench.rest_scan(job, "switches", "8")
    bench.mark(job, "switches", "5")
    assert last(bench, job) == Reading(matrix="switches", cell=CRAB, held=(ROPE, BELL), answered=(CRAB, ROPE))
    bench.mark(job, "switches", "5/4")
    assert last(bench, job).answered == (GULL, ROPE)
    bench.mark(job, "switches", "5-")
    assert last(bench, job) == Reading(matrix="switches", cell=CRAB, held=(ROPE, BELL), mark=Mark.DEAD)
    bench.mark(job, "switches", "8")
    assert last(bench, job) == Reading(matrix="switches", cell=ROPE, held=(BELL,), answered=(ROPE,))


def test_a_hold_round_without_its_own_rest_scan_claims_nothing_of_the_held_switches(bench: Bench, job: str) -> None:
    bench.start_round(job, "switches", "hold", [ROPE])
    bench.rest_scan(job, "switches", "8")
    bench.start_round(job, "switches", "hold", [ROPE])
    bench.mark(job, "switches", "5")
    assert last(bench, job) == Reading(matrix="switches", cell=CRAB, held=(ROPE,), mark=Mark.WORKING)
    with pytest.raises(InputError, match="needs a rest scan first"):
        bench.mark(job, "switches", "5+4")


def test_a_hold_round_of_another_matrix_holds_nothing_here(bench: Bench, job: str) -> None:
    bench.start_round(job, "switches", "hold", [ROPE])
    bench.mark(job, "lamps", "21")
    assert last(bench, job).held == ()


def test_readings_are_taken_all_or_none(bench: Bench, job: str) -> None:
    good = Reading(matrix="switches", cell=CRAB, answered=(CRAB,))
    with pytest.raises(InputError, match="nothing was imported"):
        bench.take_readings(job, [good, Reading(matrix="lamps", cell=CellKey("lamps", 2, 3), mark=Mark.DEAD)])
    assert bench.state(job).current == ()
    assert bench.take_readings(job, []) == ()
    (kept,) = bench.take_readings(job, [good])
    assert kept.mark is Mark.WORKING


def test_a_rest_scan_is_kept_without_a_cell(bench: Bench, job: str) -> None:
    (kept,) = bench.rest_scan(job, "switches", "")
    assert (kept.cell, kept.number, kept.name) == (None, None, "rest scan")
    assert last(bench, job) == Reading(matrix="switches", answered=())


def test_an_undo_takes_back_one_line_at_a_time_and_says_what(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "5 8-")
    bench.mark(job, "switches", "4")
    bench.start_round(job, "switches", "walk")
    first = bench.undo(job)
    assert (first.what, first.cells) == (("switch 4 (gull) answered",), (GULL,))
    assert bench.undo(job).cells == (CRAB, ROPE)
    assert bench.state(job).current == ()
    assert bench.state(job).round is not None
    with pytest.raises(UsageError, match="nothing is left to undo"):
        bench.undo(job)


def test_rounds_refuse_what_cannot_be_held(bench: Bench, job: str) -> None:
    refused: list[Callable[[], None]] = [
        lambda: bench.start_round(job, "switches", "hold"),
        lambda: bench.start_round(job, "switches", "roll", [CRAB]),
        lambda: bench.start_round(job, "lamps", "hold", [CellKey("lamps", 1, 1)]),
        lambda: bench.start_round(job, "switches", "hold", [at(3, 3)]),
        lambda: bench.start_round(job, "buttons", "walk"),
        lambda: bench.start_round(job, "switches", "walk", cells=[at(3, 3)]),
        lambda: bench.start_round(job, "switches", "walk", cells=[CellKey("lamps", 1, 1)]),
        lambda: bench.start_round(job, "switches", "roll", manner="paced"),
        lambda: bench.pace(job, 2.0, 0),
        lambda: bench.end_round(job),
    ]
    for attempt in refused:
        with pytest.raises(UsageError):
            attempt()
    assert bench.state(job).round is None


def test_only_a_paced_walk_is_timed_and_the_history_says_so(bench: Bench, job: str) -> None:
    bench.start_round(job, "lamps", "walk")
    with pytest.raises(UsageError, match="no timed walk is open"):
        bench.pace(job, 2.0, 0)
    bench.start_round(job, "switches", "walk", cells=[CRAB, ROPE], manner="paced")
    bench.pace(job, 2.5, 1)
    bench.pace(job, 2.5, 1, paused=True)
    assert [line.text for line in bench.log(job)][-3:] == [
        "timed walk of switches started over switch 5 (crab), switch 8 (rope)",
        "timed walk, a step every 2.5 s",
        "timed walk paused",
    ]
    reread = Bench(bench.path).state(job).round
    assert reread is not None
    assert reread == bench.state(job).round
    assert reread.cells == (CRAB, ROPE)


def test_a_second_round_ends_the_first(bench: Bench, job: str) -> None:
    bench.start_round(job, "switches", "walk")
    bench.start_round(job, "lamps", "walk")
    bench.end_round(job)
    assert [line.text for line in bench.log(job)][1:] == [
        "walk of switches started",
        "round ended",
        "walk of lamps started",
        "round ended",
    ]


def test_a_repair_answers_with_the_cells_to_test_again(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "5 8")
    assert bench.repair(job, "X5-2", "reseated").due == {CRAB}
    assert bench.status(job)["switches"].retest_due == 1
    assert bench.status(job)["switches"].working == 1


def test_a_finding_of_replaced_is_a_repair(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "5")
    bench.finding(job, Finding(place="Q2", verdict="replaced"), "new")
    assert bench.state(job).standings[CRAB].retest_due == "Q2"
    bench.finding(job, Finding(place="Q1", verdict="good"), "diode test")
    assert [one.place for one in bench.state(job).findings] == ["Q1"]


@pytest.mark.parametrize(
    ("place", "advice"),
    [
        ("Q22", "did you mean Q"),
        ("K9", ""),
        ("switches.c9", "name a fitted cell or a line"),
        ("c2", "with its matrix"),
        ("", ""),
    ],
)
def test_a_place_that_the_layout_lacks_is_refused(bench: Bench, job: str, place: str, advice: str) -> None:
    for attempt in (
        lambda: bench.repair(job, place),
        lambda: bench.finding(job, Finding(place=place, verdict="faulty")),
    ):
        with pytest.raises(UsageError) as caught:
            attempt()
        assert advice in caught.value.hint
    assert bench.state(job).seq == 1


def test_the_later_list_gives_reach_and_reason(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "1 2 4 5 6 7 8 12 11.")
    bench.repair(job, "Q3")
    later = {item.cell: item for item in bench.later(job) if item.cell.matrix == "switches"}
    assert {item.number: (item.reach, item.reason) for item in later.values()} == {
        3: ("ball", "untested"),
        7: ("", "retest due: Q3"),
        8: ("", "retest due: Q3"),
        11: ("glass off", "deferred: glass off"),
    }


def test_words_are_kept_in_one_line_and_refused_when_empty_or_unsound(bench: Bench, job: str) -> None:
    bench.note(job, "  earth pin\n to rail  ")
    assert bench.state(job).notes[0].text == "earth pin to rail"
    for attempt in (
        lambda: bench.note(job, " "),
        lambda: bench.note(job, "x" * 3_000),
        lambda: bench.note(job, "\udce9"),
        lambda: bench.safety(job, "", True),
        lambda: bench.new_job(LAYOUT, " "),
    ):
        with pytest.raises(UsageError):
            attempt()


@given(st.text(max_size=200))
def test_what_is_kept_of_any_words_cannot_steer_a_terminal(words: str) -> None:
    try:
        kept = one_line(words, "the note")
    except UsageError:
        assert not any(sign.isascii() and sign.isalnum() for sign in words)
        return
    assert {unicodedata.category(sign) for sign in kept}.isdisjoint({"Cc", "Zl", "Zp"})
    assert not set(kept) & set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
    assert kept == " ".join(kept.split())
    assert one_line(kept, "the note") == kept


def test_words_that_would_clear_the_screen_are_kept_as_words(bench: Bench, job: str) -> None:
    bench.note(job, "bent\x1b[2J leaf")
    readings = read_readings('{"matrix": "lamps", "cell": 21, "mark": "dead", "note": "dim\\u001b[2J"}', LAYOUT, "x")
    bench.take_readings(job, readings)
    assert bench.state(job).notes[0].text == "bent [2J leaf"
    assert all(line.text.isprintable() for line in bench.log(job))


def test_the_log_tells_the_evening_in_words(bench: Bench, job: str) -> None:
    bench.safety(job, "earth continuity", True, "0.1 ohms")
    bench.rest_scan(job, "switches", "3")
    bench.mark(job, "switches", "5+8 8/4 4.")
    bench.mark(job, "coils", "1=4.2")
    bench.take_readings(job, [Reading(matrix="lamps", cell=CellKey("lamps", 1, 1), answered=(), blew="F2", note="pop")])
    bench.finding(job, Finding(place="F2", verdict="faulty"))
    bench.repair(job, "F2", "3 A")
    bench.note(job, "tea")
    bench.undo(job)
    assert [line.text for line in bench.log(job)] == [
        "job opened: lighthouse (Lantern Pier, serial 0417, for the harbour)",
        "safety check: earth continuity passed (0.1 ohms)",
        "rest scan of switches: switch 3 (trough) shows",
        "switch 5 (crab) answered, and switch 8 (rope) too",
        "switch 8 (rope) dead, switch 4 (gull) answered instead",
        "switch 4 (gull) put off",
        "coil 1 (kicker) measured; 4.2 ohms",
        "lamp 11 (red) dead; F2 blew (pop)",
        "bench check: F2 faulty",
        "repair: F2 (3 A)",
        "note: tea",
        "undone: note: tea",
    ]
    assert [line.seq for line in bench.log(job) if line.withdrawn] == [11]


def test_diagnosis_hears_only_what_still_speaks(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "c2-")
    before = bench.diagnosis(job)
    assert {state.mark for state in before.cells if state.cell.column == 2 and state.cell.matrix == "switches"} == {
        Mark.DEAD
    }
    bench.repair(job, "Q2")
    after = bench.diagnosis(job)
    assert {state.mark for state in after.cells} == {Mark.UNTESTED}


def test_one_bench_hears_of_what_another_writes_and_not_of_its_own(tmp_path: Path) -> None:
    one, other = Bench(tmp_path / "bench.book"), Bench(tmp_path / "bench.book")
    job = one.new_job(LAYOUT, "lighthouse")
    assert other.state(job).seq == 1
    assert (one.changed(), other.changed()) == (False, False)
    one.mark(job, "switches", "5")
    assert (one.changed(), other.changed(), other.changed()) == (False, True, False)
    other.mark(job, "switches", "8")
    assert (one.changed(), other.changed()) == (True, False)
    assert one.state(job) == other.state(job)
    one.close()
    other.close()


def test_news_is_not_lost_behind_a_mark_of_ones_own(tmp_path: Path) -> None:
    one, other = Bench(tmp_path / "bench.book"), Bench(tmp_path / "bench.book")
    job = one.new_job(LAYOUT, "lighthouse")
    other.mark(job, "switches", "8")
    one.mark(job, "switches", "5")
    assert one.changed()
    one.close()
    other.close()


def test_a_bench_opened_afresh_shows_the_same_state(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "5 8- 11.")
    bench.repair(job, "Q2")
    bench.mark(job, "switches", "5+8")
    bench.undo(job)
    fresh = Bench(bench.path)
    assert fresh.state(job) == bench.state(job)
    assert fresh.log(job) == bench.log(job)
    assert fresh.verify() == bench.state(job).seq


def test_reading_an_empty_bench_makes_no_file(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    assert (bench.jobs(), bench.changed()) == ((), False)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("text", ["5-x", "99", ""])
def test_refusals_record_nothing(bench: Bench, job: str, text: str) -> None:
    with pytest.raises(MatrixCheckError):
        bench.mark(job, "switches", text)
    with pytest.raises(UsageError):
        bench.mark(job, "buttons", "5")
    with pytest.raises(UsageError):
        bench.defer(job, [at(3, 3)], "x")
    assert bench.state(job).seq == 1


def test_an_event_that_cannot_be_folded_in_is_never_kept(
    bench: Bench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("matrixcheck.bench.book.advance", broken)
    with pytest.raises(RuntimeError):
        bench.mark(job, "switches", "5")
    monkeypatch.undo()
    assert Bench(bench.path).state(job).seq == 1


def test_undoing_a_long_line_is_told_briefly_in_the_log(bench: Bench, job: str) -> None:
    bench.mark(job, "switches", "1- 2- 4- 5- 6-")
    bench.undo(job)
    assert (
        bench.log(job)[-1].text
        == "undone: switch 1 (lamp post 1) dead; switch 2 (lamp post 2) dead; switch 4 (gull) dead and 2 more"
    )
