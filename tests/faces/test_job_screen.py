"""The job screen, driven by real keys and clicks; what it kept is read back by a bench of its own."""

from __future__ import annotations

import threading

import pytest
from pilots import AT_EACH_SIZE, NARROW, PHONE, WIDE, CannedBench, Run, column_three, silent
from rich.console import Console
from textual import events
from textual._compositor import Compositor, CompositorUpdate
from textual.geometry import Region, Size
from textual.strip import Strip

from matrixcheck.bench import Kept
from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.errors import BookError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.keymap import NO_KEYMAP
from matrixcheck.tui.screens import analysed
from matrixcheck.tui.text.job import FIRST_HINT_ON_A_PHONE, first_hint
from matrixcheck.tui.text.suspects import WORKING
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.grid import GridColumn, MatrixGrid
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.rooms import Room
from matrixcheck.tui.widgets.suspect_list import SuspectList
from tests.machines import saltmarsh_tram
from tests.samples import some_of

FIRST_HINT = first_hint(NO_KEYMAP, saltmarsh_tram().matrices[0])


@pytest.mark.parametrize(("key", "mark"), [("enter", Mark.WORKING), ("minus", Mark.DEAD), ("asterisk", Mark.STUCK)])
async def test_one_key_marks_the_cell_under_the_cursor(run: Run, key: str, mark: Mark) -> None:
    async with run() as machine:
        await machine.press("down", "right", key)
        assert machine.mark("r2c2") is mark
        assert "22 tram stop 2" in machine.text() or "kept: 22" in machine.text()
        assert "kept: 22" in machine.text()


async def test_the_later_key_defers_with_the_reason_from_the_layout(run: Run) -> None:
    async with run() as machine:
        await machine.press("full_stop")
        standing = machine.reader().state(machine.job).standings[CellKey("switches", 1, 1)]
        assert standing.deferred == "ball"
        assert standing.mark is Mark.UNTESTED
        assert "later" in machine.text()


async def test_digits_from_anywhere_go_to_the_entry_line_and_enter_keeps_them(run: Run) -> None:
    async with run() as machine:
        await machine.press("2", "4")
        assert "> 24" in machine.text()
        assert machine.mark("r4c2") is Mark.UNTESTED
        await machine.press("minus", "enter")
        assert machine.mark("r4c2") is Mark.DEAD
        assert machine.app.screen.query_one(MatrixGrid).cursor == CellKey("switches", 4, 2)


@pytest.mark.parametrize(
    ("typed", "marks"),
    some_of(
        [
            ("24", {"r4c2": Mark.WORKING}),
            ("24*", {"r4c2": Mark.STUCK}),
            ("24 31- 32*", {"r4c2": Mark.WORKING, "r1c3": Mark.DEAD, "r2c3": Mark.STUCK}),
            ("c8-", {"r1c8": Mark.DEAD, "r2c8": Mark.DEAD}),
            ("r1", {"r1c1": Mark.WORKING, "r1c8": Mark.WORKING}),
            ("24/31", {"r4c2": Mark.DEAD, "r1c3": Mark.UNTESTED}),
            ("24+31", {"r4c2": Mark.WORKING, "r1c3": Mark.UNTESTED}),
        ],
        3,
    ),
)
async def test_an_entry_in_the_notation_is_kept_as_it_is_on_the_command_line(
    run: Run, typed: str, marks: dict[str, Mark]
) -> None:
    async with run() as machine:
        await machine.type(typed)
        assert {address: machine.mark(address) for address in marks} == marks
        assert machine.app.screen.query_one(EntryLine).text == ""


async def test_an_entry_that_begins_with_a_sign_speaks_of_the_cell_under_the_cursor(run: Run) -> None:
    async with run() as machine:
        await machine.press("down")
        await machine.type("+31")
        await machine.press("down")
        await machine.type("/31")
        standings = machine.reader().state(machine.job).standings
        assert standings[CellKey("switches", 2, 1)].echoed == (CellKey("switches", 1, 3),)
        assert standings[CellKey("switches", 3, 1)].answered_instead == (CellKey("switches", 1, 3),)


async def test_a_refused_entry_stays_in_sight_and_changes_nothing(run: Run) -> None:
    async with run() as machine:
        before = machine.reader().state(machine.job).seq
        await machine.type("99")
        assert "! '99'" in machine.text()
        assert "1 refused: 99" in machine.text()
        assert machine.app.screen.query_one(EntryLine).text == ""
        assert machine.reader().state(machine.job).seq == before
        await machine.press("backspace", "backspace", "2", "4", "enter")
        assert machine.mark("r4c2") is Mark.WORKING


async def test_what_is_pasted_waits_in_the_line_for_its_enter(run: Run) -> None:
    async with run() as machine:
        machine.app.post_message(events.Paste("24 25-\n26\x1b[2J"))
        await machine.settle()
        assert machine.app.screen.query_one(EntryLine).text == "24 25- 26 [2J"
        assert machine.mark("r4c2") is Mark.UNTESTED
        await machine.press("backspace", "backspace", "backspace", "backspace", "enter")
        assert [machine.mark(cell) for cell in ("r4c2", "r5c2", "r6c2")] == [Mark.WORKING, Mark.DEAD, Mark.WORKING]


async def test_a_pasted_megabyte_marks_nothing_and_a_pasted_note_is_kept(run: Run) -> None:
    async with run() as machine:
        machine.app.post_message(events.Paste("q- " * 350_000))
        await machine.press("enter")
        assert "!" in machine.text()
        assert machine.reader().state(machine.job).current == ()
        await machine.press("escape", "w")
        machine.app.post_message(events.Paste("leaf bent,\n put right"))
        await machine.press("enter")
        assert [note.text for note in machine.reader().state(machine.job).notes] == ["leaf bent, put right"]


async def test_escape_empties_the_entry_line(run: Run) -> None:
    async with run() as machine:
        await machine.press("9", "9", "escape")
        assert machine.app.screen.query_one(EntryLine).text == ""


async def test_undo_takes_back_the_last_entry_and_says_which(run: Run) -> None:
    async with run() as machine:
        await machine.type("24-")
        await machine.press("u")
        assert machine.mark("r4c2") is Mark.UNTESTED
        assert "undone: switch 24" in machine.text()
        await machine.press("u")
        assert "nothing is left to undo" in machine.text()


async def test_the_cursor_steps_over_places_where_nothing_is_fitted_and_round_the_edge(run: Run) -> None:
    async with run() as machine:
        grid = machine.app.screen.query_one(MatrixGrid)
        await machine.press("up")
        assert grid.cursor == CellKey("switches", 7, 1)
        await machine.press("down", "left")
        assert grid.cursor == CellKey("switches", 1, 8)


async def test_tab_opens_the_next_matrix_and_each_keeps_its_cursor(run: Run) -> None:
    async with run() as machine:
        await machine.press("down", "tab")
        assert machine.app.screen.query_one(MatrixGrid).matrix.id == "lamps"
        await machine.press("minus")
        assert machine.mark("r1c1", "lamps") is Mark.DEAD
        await machine.press("shift+tab")
        assert machine.app.screen.query_one(MatrixGrid).cursor == CellKey("switches", 2, 1)


async def test_the_tab_of_the_open_matrix_has_room_for_its_count_on_a_phone(run: Run) -> None:
    async with run(PHONE) as machine:
        assert "switches 0/60  la" in machine.text()
        await machine.press("tab")
        assert "swi…  lamps 0/60  coi…" in machine.text()


@AT_EACH_SIZE
async def test_every_cell_tab_and_key_can_be_clicked(run: Run, size: tuple[int, int]) -> None:
    async with run(size) as machine:
        await machine.tap("35")
        assert machine.app.screen.query_one(MatrixGrid).cursor == CellKey("switches", 5, 3)
        await machine.tap("dead")
        assert machine.mark("r5c3") is Mark.DEAD
        await machine.tap("undo")
        assert machine.mark("r5c3") is Mark.UNTESTED
        await machine.tap("la")
        assert machine.app.screen.query_one(MatrixGrid).matrix.id == "lamps"


async def test_a_mark_is_shown_only_once_it_is_on_the_disk(run: Run, bench: CannedBench) -> None:
    class Full(CannedBench):
        def mark(self, job: str, matrix_id: str, text: str) -> tuple[Kept, ...]:
            raise BookError(f"{job} {matrix_id} {text}: {self.path} can't be written", "the disk is full")

    async with run(on=Full(bench.path)) as machine:
        await machine.press("minus")
        assert "11 ∙" in machine.text()
        assert "✗" not in machine.text()
        assert "NOT KEPT YET" in machine.text()
        assert "can't be written" in machine.text()
        assert "kept:" not in machine.text()


async def test_what_another_process_keeps_appears_by_itself(run: Run) -> None:
    async with run() as machine:
        machine.reader().mark(machine.job, "switches", "24- 25")
        await machine.until(lambda: "switches 2/60" in machine.text())
        await machine.settle()
        assert "24 ✗" in machine.text()


async def test_a_slow_analysis_delays_no_mark_and_the_newest_result_wins(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = threading.Event()
    calls: list[int] = []

    def slow() -> Diagnosis:
        calls.append(1)
        if len(calls) == 1:
            return silent()
        gate.wait(5)
        return column_three() if len(calls) > 2 else silent()

    monkeypatch.setattr(CannedBench, "answer", staticmethod(slow))
    async with run() as machine:
        await machine.pilot.press("2", "4", "enter", "2", "5", "enter", "2", "6", "enter")
        await machine.until(lambda: "kept: 26" in machine.text())
        assert machine.mark("r6c2") is Mark.WORKING
        gate.set()
        await machine.until(lambda: "94 %" in machine.text())
        assert len(calls) == 3


async def test_a_chosen_suspect_lights_its_cells_until_it_is_let_go(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run() as machine:
        assert "◆" not in machine.text()
        await machine.press("s")
        assert machine.text().count("◆3") == 6
        assert "≠31" in machine.text()
        assert "?38" in machine.text()
        await machine.press("s")
        assert "◆14" in machine.text()
        await machine.press("escape")
        assert "◆" not in machine.text()
        await machine.tap("column 3 is open")
        assert machine.text().count("◆3") == 6


@pytest.mark.parametrize(("size", "width"), [(WIDE, "-wide"), (NARROW, "-narrow"), (PHONE, "-phone")])
async def test_the_first_layout_is_made_for_the_width_that_there_is(
    run: Run, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], width: str
) -> None:
    found: list[frozenset[str]] = []
    measured = KeyBar.get_content_height

    def noted(bar: KeyBar, *given: Size | int) -> int:
        found.append(bar.screen.classes)
        return measured(bar, *given)  # type: ignore[arg-type]

    monkeypatch.setattr(KeyBar, "get_content_height", noted)
    async with run(size):
        assert found
        assert all(classes & {"-wide", "-narrow", "-phone"} == {width} for classes in found)


@pytest.mark.usefixtures("painted")
@AT_EACH_SIZE
async def test_what_stands_for_the_suspects_is_one_line_from_the_first_frame_on(
    run: Run, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
) -> None:
    drawn: list[str] = []
    original = SuspectList.render_line

    def noted(self: SuspectList, y: int) -> Strip:
        strip = original(self, y)
        drawn.append(strip.text.strip())
        return strip

    monkeypatch.setattr(SuspectList, "render_line", noted)
    async with run(size):
        assert drawn[0] == WORKING
        assert set(drawn[1:]).isdisjoint(WORKING.split())


@pytest.mark.usefixtures("painted")
async def test_one_mark_repaints_its_tile_and_no_other(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[tuple[int, int]] = []
    original = GridColumn.render_line

    def counting(self: GridColumn, y: int) -> object:
        drawn.append((self.place, y))
        return original(self, y)

    async with run() as machine:
        monkeypatch.setattr(GridColumn, "render_line", counting)
        await machine.press("minus")
        assert {place for place, _ in drawn} == {0}
        assert {y for _, y in drawn} == {1, 2}


@pytest.mark.usefixtures("painted")
async def test_one_mark_draws_no_room_anew_and_another_theme_draws_all_of_them(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn: set[str | None] = set()
    original = Room.draw_lines

    def noted(self: Room, crop: Region) -> list[Strip]:
        drawn.add(self.id)
        return original(self, crop)

    async with run() as machine:
        monkeypatch.setattr(Room, "draw_lines", noted)
        await machine.press("minus")
        assert not drawn
        machine.app.action_other_theme()
        await machine.settle()
        assert {"body", "grid-room", "pane", "tabs"} <= drawn


@pytest.mark.usefixtures("painted")
async def test_one_mark_on_a_job_with_failures_is_at_most_400_bytes_to_a_terminal(
    run: Run, bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.mark(job, "switches", "c1 c2-")
    # An answer that takes longer than this writes a line of its own, whatever the mark writes.
    monkeypatch.setattr(analysed, "PATIENCE", 60.0)
    written: list[int] = []
    terminal = Console(color_system="truecolor", force_terminal=True)
    original = Compositor.render_update

    def counting(self: Compositor, *how: object, **named: object) -> object:
        update = original(self, *how, **named)
        if isinstance(update, CompositorUpdate):
            written.append(len(update.render_segments(terminal).encode()))
        return update

    async with run() as machine:
        monkeypatch.setattr(Compositor, "render_update", counting)
        for key in ("minus", "enter", "minus", "asterisk"):
            written.clear()
            await machine.press(key)
            assert 0 < sum(written) <= 400


async def test_help_lists_the_keys_of_this_screen_and_any_of_its_keys_closes_it(run: Run) -> None:
    async with run() as machine:
        await machine.press("question_mark")
        assert "At the job" in machine.text()
        assert "new job" not in machine.text()
        await machine.press("escape")
        assert "At the job" not in machine.text()


async def test_without_colours_every_mark_still_has_its_glyph(
    run: Run, bench: CannedBench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    bench.mark(job, "switches", "21 22- 23*")
    async with run() as machine:
        for shown in ("21 ✓", "22 ✗", "23 *", "24 ∙"):
            assert shown in machine.text()
        strips = machine.app.screen._compositor.render_strips()
        colours = {segment.style.bgcolor for strip in strips for segment in strip if segment.style}
        triplets = {colour.triplet for colour in colours if colour is not None and colour.triplet is not None}
        assert triplets
        assert all(red == green == blue for red, green, blue in triplets)


async def test_how_to_begin_is_told_no_longer_after_a_round_that_kept_something(run: Run) -> None:
    async with run() as machine:
        assert FIRST_HINT in " ".join(machine.text().split())
        await machine.press("g", "1")
        await machine.type("24")
        await machine.press("escape")
        assert FIRST_HINT[:20] not in machine.text()


async def test_what_was_kept_before_another_screen_came_is_not_told_as_news_after_it(run: Run) -> None:
    async with run() as machine:
        await machine.type("24-")
        assert "kept: 24" in machine.text()
        await machine.press("p", "m", "escape")
        assert "kept: 24" not in machine.text()
        await machine.press("w", *"bent", "enter")
        assert "kept: the note" in machine.text()


async def test_a_narrow_bar_is_filled_with_keys_that_need_no_further_line(run: Run) -> None:
    async with run((80, 24)) as machine:
        bar = machine.text().split("\n")[-2:]
        assert "Enter working" in bar[0]
        for word in ("? keys", "d decide", "k checks", "a safety"):
            assert word in bar[1]


async def test_one_suspect_is_told_in_as_many_lines_as_there_are_on_a_low_screen(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(column_three))
    async with run((80, 24)) as machine:
        assert "1 against; 6 untested" in " ".join(machine.text().split())


async def test_a_suspect_that_is_longer_than_its_room_ends_in_an_ellipsis(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def long() -> Diagnosis:
        found = column_three()
        many = tuple(
            found.suspects[0].members[0].model_copy(update={"part": f"X{number}"}) for number in range(1000, 1100)
        )
        first = found.suspects[0].model_copy(update={"members": many})
        return found.model_copy(update={"suspects": (first, *found.suspects[1:])})

    monkeypatch.setattr(CannedBench, "answer", staticmethod(long))
    async with run(NARROW) as machine:
        await machine.press("s")
        shown = [line.rstrip() for line in machine.text().split("\n")]
        assert any(line.endswith("…") for line in shown[shown.index(" ▸1 Switch column 3 is open") :])


async def test_quit_ends_the_program_and_bench_goes_back(run: Run) -> None:
    async with run() as machine:
        await machine.press("b")
        assert "The bench" in machine.text()
        await machine.press("enter")
        assert "switches 0/60" in machine.text()
        await machine.pilot.press("q")
    assert machine.app.return_code == 0


@pytest.mark.parametrize(
    ("size", "hint"),
    [(WIDE, FIRST_HINT), pytest.param(NARROW, FIRST_HINT, marks=pytest.mark.slow), (PHONE, FIRST_HINT_ON_A_PHONE)],
)
async def test_a_new_job_says_how_to_begin_until_something_is_kept(run: Run, size: tuple[int, int], hint: str) -> None:
    async with run(size) as machine:
        assert hint in " ".join(machine.text().split())
        await machine.type("24")
    async with run(size) as machine:
        assert hint not in " ".join(machine.text().split())


async def test_one_key_accepts_a_glow_and_takes_that_back(run: Run, bench: CannedBench, job: str) -> None:
    bench.rest_scan(job, "lamps", "1")
    async with run(matrix="lamps") as machine:
        await machine.press("i")
        assert machine.reader().state(job).standings[CellKey("lamps", 1, 1)].normal
        assert "its glow is normal here" in machine.text()
        assert "glow is normal here" in machine.text()
        await machine.press("i")
        assert machine.reader().state(job).standings[CellKey("lamps", 1, 1)].fails
        await machine.press("down", "i")
        assert "not lit at rest" in " ".join(machine.text().split())
