"""What a technician keeps beside marks, under real keys: checks before power, parts and repairs, notes, reasons."""

from __future__ import annotations

from pilots import AT_EACH_SIZE, PHONE, CannedBench, Run

from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.function_lists import function_lists
from matrixcheck.record.safety_checks import checklist
from matrixcheck.report.cautions import INSIDE
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.walk import WalkScreen

# Before power


@AT_EACH_SIZE
async def test_each_check_before_power_is_kept_with_one_key_and_leads_to_the_next(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size) as machine:
        await machine.press("a")
        said = " ".join(machine.text().split())
        items = [one.item for one in checklist(machine.reader().state(machine.job))]
        assert all(item in said for item in items[:3])
        assert f"{len(items)} open" in said
        assert INSIDE in said
        await machine.press(*["enter"] * len(items))
        kept = machine.reader().state(machine.job).safety
        assert [(one.item, one.passed) for one in kept] == [(item, True) for item in items]
        assert f"{len(items)} passed" in machine.text()


async def test_the_fuses_and_plugs_of_the_layout_stand_among_the_checks_before_power(run: Run) -> None:
    async with run() as machine:
        items = {one.item for one in checklist(machine.reader().state(machine.job))}
        assert {"fuse F1", "plug X1", "plug X6"} <= items
        assert not {"other fuses", "plugs"} & items


async def test_a_check_is_waived_for_a_reason_only(run: Run) -> None:
    async with run() as machine:
        await machine.press("a", "o", "escape")
        assert machine.reader().state(machine.job).safety == ()
        await machine.press("o", *"no", "space", *"lead", "enter")
        (kept,) = machine.reader().state(machine.job).safety
        assert (kept.item, kept.waived, kept.note) == ("mains lead", True, "no lead")
        assert "1 waived" in machine.text()


@AT_EACH_SIZE
async def test_a_failed_check_stands_at_the_head_of_the_job_and_before_a_round_until_it_passes(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.safety(job, "mains voltage", False, "taps at 120")
    async with run(size) as machine:
        assert "FAILED: mains voltage" in machine.text()
        await machine.press("g")
        assert "safety check FAILED: mains voltage" in " ".join(machine.text().split())
        await machine.press("escape")
    bench.safety(job, "mains voltage", True)
    async with run(size) as machine:
        assert "FAILED" not in machine.text()
        await machine.press("g")
        assert "FAILED" not in machine.text()


async def test_a_check_that_fails_asks_what_is_wrong_and_stays_in_sight(run: Run) -> None:
    async with run() as machine:
        await machine.press("a", *["down"] * 3, "minus", *"bond", "space", *"open", "enter")
        (kept,) = machine.reader().state(machine.job).safety
        assert (kept.item, kept.passed, kept.note) == ("earth bond", False, "bond open")
        assert "✗ earth bond" in machine.text()
        assert "1 FAILED" in machine.text()


@AT_EACH_SIZE
async def test_open_failed_passed_and_waived_are_counted_apart_at_every_width(
    run: Run, bench: CannedBench, job: str, size: tuple[int, int]
) -> None:
    bench.safety(job, "polarity", False)
    bench.safety(job, "mains lead", True)
    bench.waive_check(job, "batteries", "none fitted")
    async with run(size) as machine:
        await machine.press("a")
        count = len(checklist(machine.reader().state(machine.job)))
        assert f"{count - 3} open, 1 FAILED, 1 passed" in machine.text()
        assert "1 waived" in machine.text()


@AT_EACH_SIZE
async def test_a_plug_takes_one_key_and_what_is_wrong_with_it_is_offered(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        items = [one.item for one in checklist(machine.reader().state(machine.job))]
        first = items.index("plug X1")
        await machine.press("a", *["down"] * first, "enter", "enter", "minus", "down", "enter")
        kept = [(one.item, one.passed, one.note) for one in machine.reader().state(machine.job).safety]
        assert kept == [("plug X1", True, ""), ("plug X2", True, ""), ("plug X5", False, "askew")]
        await machine.press("minus", *"pin", "space", *"bent", "enter")
        assert machine.reader().state(machine.job).safety[-1].note == "pin bent"


async def test_a_fuse_that_fails_is_asked_for_by_what_is_in_its_holder(run: Run) -> None:
    async with run() as machine:
        items = [one.item for one in checklist(machine.reader().state(machine.job))]
        await machine.press("a", *["down"] * items.index("fuse F2"))
        assert "6.3 A T" in machine.text()
        await machine.press("minus")
        assert "fuse F2: what is in the holder?" in machine.text()
        await machine.press(*"10A", "enter")
        (kept,) = machine.reader().state(machine.job).safety
        assert (kept.item, kept.passed, kept.note) == ("fuse F2", False, "10A")


async def test_a_question_that_is_left_fails_nothing(run: Run) -> None:
    async with run() as machine:
        await machine.press("a", "minus", "escape")
        assert machine.reader().state(machine.job).safety == ()


async def test_a_tap_on_a_check_only_points_at_it(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.press("a")
        await machine.tap("plug wiring")
        assert machine.reader().state(machine.job).safety == ()
        await machine.tap("passed", last=True)
        assert [one.item for one in machine.reader().state(machine.job).safety] == ["plug wiring"]


async def test_a_check_of_ones_own_is_added_and_a_second_outcome_replaces_the_first(run: Run) -> None:
    async with run() as machine:
        await machine.press("a", "n", *"coin", "space", *"door", "enter", "minus", "enter")
        assert "✗ coin door" in machine.text()
        await machine.press("enter")
        assert "✗ coin door" in machine.text()
        assert "Press Enter again" in machine.text()
        await machine.press("enter")
        assert "✓ coin door" in machine.text()
        await machine.press("u")
        assert "✗ coin door" in machine.text()
        outcomes = [(one.item, one.passed) for one in machine.reader().state(machine.job).safety]
        assert outcomes == [("coin door", False)]


async def test_a_check_of_ones_own_waits_until_it_is_made_also_when_the_page_was_left(run: Run) -> None:
    async with run() as machine:
        await machine.press("a", "n", *"coin", "space", *"door", "enter", "escape")
        await machine.press("a")
        await machine.press("up")
        assert "∙ coin door" in machine.text()


async def test_each_check_is_reached_on_a_low_screen_with_what_to_look_at(run: Run) -> None:
    async with run((80, 24)) as machine:
        await machine.press("a")
        for one in checklist(machine.reader().state(machine.job)):
            said = " ".join(machine.text().translate({ord(arrow): " " for arrow in "↑↓"}).split())
            assert one.item in said
            assert one.about in said.replace("residual- current", "residual-current")
            await machine.press("down")


async def test_a_round_says_that_no_check_before_power_is_recorded_until_one_is(run: Run) -> None:
    async with run() as machine:
        await machine.press("g")
        assert "No check before power is recorded" in machine.text()
        await machine.press("escape", "a", "enter", "escape", "g")
        assert "No check before power is recorded" not in machine.text()


# The rest of the test mode


@AT_EACH_SIZE
async def test_a_line_of_the_test_mode_takes_one_key_and_leads_to_the_next(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.press("t")
        lines = [one.name for one in function_lists(machine.reader().state(machine.job))]
        assert lines[0] in machine.text()
        assert f"{len(lines)} not tested" in machine.text()
        await machine.press("enter", "0", "minus", *"hums", "enter", "down", "ampersand", "enter")
        kept = machine.reader().state(machine.job).functions
        assert [(f"{one.section}: {one.item}", one.verdict, one.note) for one in kept] == [
            (lines[0], "good", ""),
            (lines[1], "not fitted", ""),
            (lines[2], "faulty", "hums"),
            (lines[3], "comes and goes", ""),
        ]
        assert f"{len(lines) - 4} not tested" in " ".join(machine.text().split())
        await machine.press("u")
        assert len(machine.reader().state(machine.job).functions) == 3
        await machine.press("t")
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_tap_on_a_line_of_the_test_mode_only_points_at_it(run: Run) -> None:
    async with run(PHONE) as machine:
        await machine.press("t")
        await machine.tap("sound: speakers")
        assert machine.reader().state(machine.job).functions == ()
        await machine.tap("good", last=True)
        assert [one.item for one in machine.reader().state(machine.job).functions] == ["speakers"]


async def test_what_else_is_faulty_is_added_to_the_list_pointed_at(run: Run) -> None:
    async with run() as machine:
        await machine.press("t", "n", *"topper", "enter")
        (kept,) = machine.reader().state(machine.job).functions
        assert (kept.section, kept.item, kept.verdict) == ("displays", "topper", "faulty")
        assert "✗ displays: topper" in machine.text()


async def test_a_coil_on_at_rest_keeps_the_test_mode_away(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "coils", "1*")
    async with run() as machine:
        await machine.press("escape", "t")
        assert "The rest of the test mode" not in machine.text()


# Parts and repairs


async def test_the_parts_behind_a_cell_are_listed_from_its_device_to_the_logic(run: Run) -> None:
    async with run() as machine:
        await machine.press("p")
        lines = [line.strip(" ▌").partition("  ")[0] for line in machine.text().split("\n")]
        listed = [line for line in lines if line.startswith(("switch ", "U", "Q", "X", "F"))]
        column, row = ["X1-1", "X1", "Q1", "U1-18", "U1"], ["X6-1", "X6", "U2-1", "U2"]
        assert listed == ["switch 11 (ball trough 1)", "switch column 1 wire", *column, "switch row 1 wire", *row, "F1"]


async def test_a_repair_at_the_job_makes_its_cells_due_for_a_test(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "c1-")
    async with run() as machine:
        await machine.press("p", "down", "m", "enter")
        assert "kept: switch column 1 wire repaired" in machine.text()
        assert "repaired 2026-11-21 12:00" in machine.text()
        standing = machine.reader().state(job).standings[CellKey("switches", 1, 1)]
        assert (standing.mark, standing.retest_due) == (Mark.UNTESTED, "switches.c1")
        await machine.press("escape")
        assert isinstance(machine.app.screen, JobScreen)
        assert "again" in machine.text()
        assert "to test again after a repair" in machine.text()


async def test_what_was_found_at_a_part_stands_beside_it_and_can_be_undone(run: Run) -> None:
    async with run() as machine:
        await machine.press("p", "down", "down", "minus")
        (found,) = machine.reader().state(machine.job).findings
        assert (found.place, found.verdict) == ("X1-1", "faulty")
        assert "found faulty" in machine.text()
        await machine.press("u")
        assert machine.reader().state(machine.job).findings == ()
        assert "found faulty 2026" not in machine.text()


async def test_a_note_on_a_part_begins_with_its_designator(run: Run) -> None:
    async with run() as machine:
        await machine.press("p", "down", "down", "w", *"corroded", "enter")
        assert [note.text for note in machine.reader().state(machine.job).notes] == ["X1-1: corroded"]


# Notes and the history


@AT_EACH_SIZE
async def test_a_note_written_at_the_job_stands_first_in_the_log(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.type("11-")
        await machine.press("w", *"lid", "space", *"stuck", "enter")
        assert [note.text for note in machine.reader().state(machine.job).notes] == ["lid stuck"]
        assert "kept: the note" in machine.text()
        await machine.press("h")
        said = " ".join(machine.text().split())
        assert said.index("note: lid stuck") < said.index("switch 11 (ball trough 1) dead") < said.index("job opened")


async def test_an_empty_note_is_asked_for_again(run: Run) -> None:
    async with run() as machine:
        await machine.press("w", "enter")
        assert "a few words are needed" in machine.text()
        await machine.press("escape")
        assert machine.reader().state(machine.job).notes == ()


@AT_EACH_SIZE
async def test_half_a_note_that_is_left_is_not_lost_and_another_place_does_not_get_it(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size) as machine:
        await machine.press("w", *"lid", "space", *"st", "escape")
        assert machine.reader().state(machine.job).notes == ()
        await machine.press("p", "w", "x", "escape", "escape")
        await machine.press("g", "1", "insert")
        assert "lid st" in machine.text()
        await machine.press(*"uck", "enter")
        assert [note.text for note in machine.reader().state(machine.job).notes] == ["lid stuck"]
        await machine.press("insert", "enter")
        assert "a few words are needed" in machine.text(), "what was kept is not begun again"


async def test_what_is_undone_stays_in_the_history_and_says_so(run: Run) -> None:
    async with run() as machine:
        await machine.type("11-")
        await machine.press("h", "u")
        assert "switch 11 (ball trough 1) dead [undone since]" in machine.text()
        assert machine.mark("r1c1") is Mark.UNTESTED


# Why later


async def test_the_first_reason_offered_is_how_the_cell_is_got_at(run: Run) -> None:
    async with run() as machine:
        await machine.press("o", "enter")
        assert "later: ball" in machine.text()
        assert machine.reader().state(machine.job).standings[CellKey("switches", 1, 1)].deferred == "ball"


async def test_a_reason_is_picked_by_a_tap_or_typed(run: Run) -> None:
    async with run() as machine:
        await machine.press("o")
        await machine.tap("playfield up")
        assert machine.reader().state(machine.job).standings[CellKey("switches", 1, 1)].deferred == "playfield up"
        await machine.press("down", "o", *"no", "space", *"key", "enter")
        assert machine.reader().state(machine.job).standings[CellKey("switches", 2, 1)].deferred == "no key"
        await machine.press("l")
        assert "(put off: no key)" in machine.text()


async def test_a_reason_given_in_a_walk_goes_on_to_the_next_device(run: Run) -> None:
    async with run(matrix="lamps") as machine:
        await machine.press("g", "1", "o", *"bulb", "space", *"lost", "enter")
        screen = machine.app.screen
        assert isinstance(screen, WalkScreen)
        assert screen.place == 1
        first = screen.order[0].key
        assert machine.reader().state(machine.job).standings[first].deferred == "bulb lost"
