"""The bench screen and the form for a new job, driven by real keys and clicks."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from pilots import AT_EACH_SIZE, NARROW, CannedBench, Machine, Run
from textual import events
from textual.widgets import Input

from matrixcheck.layout.reading import Mark
from matrixcheck.tui.app import MatrixCheckApp
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.screens.new_job import NewJobScreen
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.name_list import NameList


async def test_the_bench_lists_every_job_with_its_coverage(run: Run, bench: CannedBench, job: str) -> None:
    bench.mark(job, "switches", "c1")
    async with run(at="bench") as machine:
        assert "Pier arcade, machine 4" in machine.text()
        assert "switches ━─────── 7/60" in machine.text()
        assert "serial 1187" in machine.text()


async def named(machine: Machine, name: str) -> None:
    """Name the job, and leave serial number and owner for later."""
    await machine.type(name)
    await machine.press("enter", "enter")


@AT_EACH_SIZE
async def test_arrows_alone_reach_every_layout_and_every_line(run: Run, size: tuple[int, int]) -> None:
    async with run(size, at="bench") as machine:
        await machine.press("n")
        layouts = machine.app.screen.query_one(NameList)
        pointed = []
        for _ in layouts.names:
            await machine.press("down")
            pointed.append(layouts.pointed)
        assert pointed == list(layouts.names)
        at = []
        for _ in range(4):
            await machine.press("down")
            at.append(machine.app.focused.id if machine.app.focused else None)
        assert at == ["name", "serial", "owner", "layout"]
        await machine.press("up", "up", "up")
        assert machine.app.focused is machine.app.screen.query_one("#name")


@AT_EACH_SIZE
async def test_enter_takes_the_layout_pointed_at_and_starts_only_on_the_last_line(
    run: Run, size: tuple[int, int]
) -> None:
    async with run(size, at="bench") as machine:
        await machine.press("n", "down", "down", "up", "enter")
        assert machine.app.screen.query_one("#layout", Input).value == "coil-8x2"
        await machine.type("Left cabinet")
        await machine.type("4711")
        assert isinstance(machine.app.screen, NewJobScreen)
        assert len(machine.reader().jobs()) == 1
        await machine.type("A. Wharf")
        assert isinstance(machine.app.screen, JobScreen)
        made = machine.reader().jobs()[0]
        assert (made.name, made.serial, made.owner) == ("Left cabinet", "4711", "A. Wharf")


@AT_EACH_SIZE
async def test_what_a_typed_start_stands_for_is_seen_before_enter(run: Run, size: tuple[int, int]) -> None:
    async with run(size, at="bench") as machine:
        await machine.press("n", "s")
        assert "▌" not in machine.text()
        await machine.press("a")
        assert "▌ saltmarsh-tram" in machine.text()
        await machine.press("x")
        assert "▌" not in machine.text()


async def test_serial_number_and_owner_that_were_left_out_are_filled_in_later(run: Run) -> None:
    async with run(at="bench") as machine:
        await machine.press("n")
        assert "j on the bench fills them in later" in " ".join(machine.text().split())
        await machine.press(*"salt", "enter")
        await named(machine, "Tram")
        await machine.press("b", "j", "down", *"99", "down", *"Quay", "enter")
        made = machine.reader().jobs()[0]
        assert (made.name, made.serial, made.owner) == ("Tram", "99", "Quay")


@AT_EACH_SIZE
async def test_a_job_is_started_from_a_shipped_layout(run: Run, size: tuple[int, int]) -> None:
    async with run(size, at="bench") as machine:
        await machine.press("n")
        await machine.tap("lamp-8x8")
        await named(machine, "Left cabinet")
        assert isinstance(machine.app.screen, JobScreen)
        assert [one.name for one in machine.reader().jobs()] == ["Left cabinet", "Pier arcade, machine 4"]


async def test_a_job_is_started_from_a_layout_file_of_ones_own(run: Run, tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text('format = 1\nname = "Own"\n[[matrix]]\nid = "s"\nkind = "switch"\ncells = [["a", "b"]]\n')
    async with run(at="bench") as machine:
        await machine.press("n")
        machine.app.screen.query_one("#layout", Input).value = str(own)
        await machine.press("enter")
        await named(machine, "Own machine")
        assert "s 0/2" in machine.text()


async def test_over_the_network_only_a_shipped_layout_is_taken_and_no_path_is_answered_for(
    run: Run, tmp_path: Path
) -> None:
    own = tmp_path / "own.toml"
    own.write_text('format = 1\nname = "Own"\n[[matrix]]\nid = "s"\nkind = "switch"\ncells = [["a", "b"]]\n')
    os.mkfifo(tmp_path / "pipe")
    async with run(at="bench", own_layouts=False) as machine:
        await machine.press("n")
        assert "path" not in machine.text()
        field = machine.app.screen.query_one("#layout", Input)
        for path in (own, tmp_path / "none.toml", tmp_path / "pipe", tmp_path, "/dev/zero", "~nobody/own.toml"):
            field.value = str(path)
            await machine.press("enter")
            said = "".join(machine.text().split())
            assert f"!nolayout'{path}':nameoneofcoil-8x2,lamp-8x8,saltmarsh-tram,switch-8x8" in said
        field.value = "salt"
        await machine.press("enter")
        await named(machine, "Tram")
        assert "switches 0/60" in machine.text()


async def test_over_the_network_a_layout_of_the_named_folder_is_taken_as_well(run: Run, tmp_path: Path) -> None:
    own = 'format = 1\nname = "Own"\n[[matrix]]\nid = "s"\nkind = "switch"\ncells = [["a", "b"]]\n'
    (tmp_path / "own.toml").write_text(own)
    os.mkfifo(tmp_path / "pipe.toml")
    async with run(at="bench", own_layouts=False, layouts=tmp_path) as machine:
        await machine.press("n")
        assert "own.toml" in machine.text()
        assert "pipe.toml" not in machine.text()
        machine.app.screen.query_one("#layout", Input).value = "own"
        await machine.press("enter")
        await named(machine, "Own machine")
        assert "s 0/2" in machine.text()


async def test_a_path_that_cannot_be_read_is_refused_in_place(run: Run) -> None:
    async with run(at="bench") as machine:
        await machine.press("n")
        field = machine.app.screen.query_one("#layout", Input)
        for path, says in (
            ("/dev/zero", "is not a regular file"),
            ("~nobody/own.toml", "no file"),
            ("a\0b", "no layout"),
        ):
            field.value = path
            await machine.press("enter")
            assert says in " ".join(machine.text().split())


async def test_a_bad_layout_is_refused_in_place_with_what_was_typed_kept(run: Run) -> None:
    async with run(at="bench") as machine:
        await machine.press("n")
        await machine.press(*"nolayout", "enter")
        said = " ".join(machine.text().split())
        assert "! no layout 'nolayout'" in said
        assert "saltmarsh-tram, switch-8x8" in said
        field = machine.app.screen.query_one("#layout", Input)
        assert field.value == "nolayout"
        assert field.has_focus
        assert len(machine.reader().jobs()) == 1


async def test_the_start_of_a_shipped_layouts_name_is_enough_and_the_next_line_is_asked_for_without_blame(
    run: Run,
) -> None:
    async with run(at="bench") as machine:
        await machine.press("n")
        await machine.press(*"salt", "enter")
        assert machine.app.screen.query_one("#layout", Input).value == "saltmarsh-tram"
        assert "is needed" not in machine.text()
        await machine.press("enter")
        assert "a name is needed" in machine.text()
        await named(machine, "Tram")
        assert "switches 0/60" in machine.text()


async def test_a_file_of_ones_own_comes_before_the_start_of_a_shipped_name(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "switch").write_text(
        'format = 1\nname = "Own"\n[[matrix]]\nid = "s"\nkind = "switch"\ncells = [["a", "b"]]\n'
    )
    monkeypatch.chdir(tmp_path)
    async with run(at="bench") as machine:
        await machine.press("n", *"switch", "enter")
        await named(machine, "Own machine")
        assert "s 0/2" in machine.text()


async def test_what_is_missing_is_asked_for_and_escape_leaves(run: Run) -> None:
    async with run(at="bench") as machine:
        await machine.press("n", "enter")
        assert "a layout is needed" in machine.text()
        await machine.press("escape")
        assert "The bench" in machine.text()
        assert len(machine.reader().jobs()) == 1


async def test_arrows_point_at_a_job_and_enter_opens_it(run: Run, bench: CannedBench, job: str) -> None:
    bench.new_job(bench.state(job).layout, "Second machine")
    async with run(at="bench") as machine:
        await machine.press("down", "enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.app.screen.desk.job == job
        await machine.press("b", "q")
    assert machine.app.return_code == 0


async def test_a_tap_opens_the_job_that_was_hit(run: Run, bench: CannedBench, job: str) -> None:
    bench.new_job(bench.state(job).layout, "Second machine")
    async with run(NARROW, at="bench") as machine:
        await machine.tap("Second machine")
        assert "Second machine" in machine.text().split("\n")[0]


async def test_the_light_theme_is_one_key_away(run: Run) -> None:
    async with run(at="bench") as machine:
        assert machine.app.current_theme.dark
        await machine.press("f12")
        assert not machine.app.current_theme.dark


async def test_keys_that_come_before_the_first_screen_wait_for_it_in_their_order(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def hurry(app: MatrixCheckApp) -> None:
        for key, character in (("2", "2"), ("4", "4"), ("minus", "-"), ("enter", "\r"), ("3", "3")):
            app.post_message(events.Key(key, character))

    monkeypatch.setattr(MatrixCheckApp, "on_load", hurry, raising=False)
    async with run() as machine:
        await machine.press("1")
        assert machine.mark("r4c2") is Mark.DEAD
        assert machine.app.screen.query_one(EntryLine).text == "31"
