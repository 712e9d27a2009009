"""The layout put right in mid-job, under real keys: a cell and its lines as a form, in the job and in its file."""

from __future__ import annotations

from pathlib import Path

import pytest
from pilots import AT_EACH_SIZE, NOON, CannedBench, Machine, Run

from matrixcheck.bench import Bench
from matrixcheck.layout.edit.editing import edit_layout
from matrixcheck.layout.edit.keys import Change, Key
from matrixcheck.layout.files import find_layout, read_found, read_layout, shipped
from matrixcheck.layout.locate import comments
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark
from matrixcheck.tui.screens.correct import CorrectScreen
from matrixcheck.tui.screens.job import JobScreen

COLUMN = LineKey("switches", "column", 1)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A layout file of one's own, with a comment at its end."""
    path = tmp_path / "own" / "pier.toml"
    path.parent.mkdir()
    path.write_bytes(find_layout("saltmarsh-tram").read_bytes() + b"\n# bought in spring\n")
    return path


@pytest.fixture
def own(bench: CannedBench, file: Path) -> str:
    """A job whose layout was read from that file."""
    layout, source = read_found(str(file))
    return bench.new_job(layout, "Pier, own file", source=source)


def kept(machine: Machine) -> Layout:
    """The layout that the journal gives the job."""
    return machine.reader().state(machine.job).layout


async def replace(machine: Machine, text: str) -> None:
    """Type another text in the place of what stands in the line."""
    await machine.press("end", "ctrl+u", *("space" if sign == " " else sign for sign in text))


def said(machine: Machine) -> str:
    return " ".join(machine.text().split())


@AT_EACH_SIZE
async def test_one_key_opens_the_cell_and_enter_keeps_it_in_the_job_and_in_its_file(
    run: Run, own: str, file: Path, size: tuple[int, int]
) -> None:
    before = file.read_text(encoding="utf-8")
    async with run(size, of=own) as machine:
        await machine.press("j")
        assert isinstance(machine.app.screen, CorrectScreen)
        assert "Kept in this job and in pier.toml" in said(machine)
        await replace(machine, "kiosk")
        await machine.press("enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert "kiosk; also in pier.toml" in said(machine)
        assert kept(machine).matrix("switches").by_number[11].name == "kiosk"
        assert read_layout(file) == kept(machine)
        assert comments(file.read_text(encoding="utf-8")) == comments(before)
        assert machine.app.screen.matrix.by_number[11].name == "kiosk"


@AT_EACH_SIZE
async def test_a_chain_fills_in_from_the_numbers_met_along_the_wire(
    run: Run, own: str, file: Path, size: tuple[int, int]
) -> None:
    async with run(size, of=own) as machine:
        await machine.press("j", "tab", *["down"] * 5)
        assert "switch column 1" in said(machine)
        await replace(machine, "")
        for number in (16, 14, 12, 11, 13):
            await machine.press(*str(number), "enter")
        assert "left: 15, 17" in said(machine)
        await machine.press(*"15", "enter")
        assert "17 was left: the chain is whole; Enter keeps it" in said(machine)
        assert kept(machine).line(COLUMN).chain != (16, 14, 12, 11, 13, 15, 17)
        await machine.press("enter")
        assert kept(machine).line(COLUMN).chain == (16, 14, 12, 11, 13, 15, 17)
        assert read_layout(file).line(COLUMN).chain == (16, 14, 12, 11, 13, 15, 17)


async def test_a_chain_walked_from_the_far_end_is_turned(run: Run, own: str) -> None:
    async with run(of=own) as machine:
        await machine.press("j", "tab", *["down"] * 5)
        await replace(machine, "11 12 13 14 15 16 17")
        await machine.press("down", "space", "enter")
        assert kept(machine).line(COLUMN).chain == (17, 16, 15, 14, 13, 12, 11)


async def test_all_that_was_changed_on_any_sheet_is_one_entry_that_one_undo_takes_back(
    run: Run, own: str, file: Path
) -> None:
    async with run(of=own) as machine:
        first = kept(machine)
        await machine.press("j")
        await replace(machine, "kiosk")
        await machine.press("down", "down")
        await replace(machine, "front")
        await machine.press("tab", "down", "down")
        await replace(machine, "green-white")
        await machine.press("tab", "tab")
        assert "kiosk" in said(machine)
        await machine.press("enter")
        cell = kept(machine).matrix("switches").by_number[11]
        assert (cell.name, cell.notes.zone) == ("kiosk", "front")
        assert kept(machine).line(COLUMN).wire == "GN/WH"
        await machine.press("u")
        assert kept(machine) == first
        assert "pier.toml is not changed back" in said(machine)
        assert read_layout(file).line(COLUMN).wire == "GN/WH"


@AT_EACH_SIZE
async def test_what_is_wrong_is_said_in_the_form_and_nothing_is_lost(
    run: Run, own: str, file: Path, size: tuple[int, int]
) -> None:
    before = file.read_bytes()
    async with run(size, of=own) as machine:
        first = machine.reader().state(own).seq
        await machine.press("j")
        await replace(machine, "kiosk")
        await machine.press("down")
        await replace(machine, "24")
        await machine.press("enter")
        assert isinstance(machine.app.screen, CorrectScreen)
        assert "! " in machine.text()
        assert "24 would be two cells" in said(machine)
        assert "kiosk" in said(machine)
        await replace(machine, "11")
        await machine.press("tab", "down", "down", "down")
        await replace(machine, "U1-18 Q1 X9.3")
        await machine.press("enter")
        assert "'X9.3' is not a reference designator" in said(machine)
        assert machine.reader().state(own).seq == first
        assert file.read_bytes() == before
        await replace(machine, "U1-18 Q1 X9-3")
        await machine.press("enter")
        assert kept(machine).line(COLUMN).path == ("U1-18", "Q1", "X9-3")
        assert kept(machine).matrix("switches").by_number[11].name == "kiosk"


async def test_leaving_asks_where_something_was_typed(run: Run, own: str) -> None:
    async with run(of=own) as machine:
        await machine.press("j", "escape")
        assert isinstance(machine.app.screen, JobScreen)
        await machine.press("j", "x", "escape", "escape")
        assert isinstance(machine.app.screen, CorrectScreen)
        await machine.press("escape", "enter")
        assert isinstance(machine.app.screen, JobScreen)
        assert machine.reader().state(own).seq == machine.bench.state(own).seq
        await machine.press("j", "enter")
        assert isinstance(machine.app.screen, JobScreen)


async def test_a_shipped_layout_is_copied_first_and_the_message_names_the_copy(
    run: Run, bench: CannedBench, tmp_path: Path
) -> None:
    layout, source = read_found("saltmarsh-tram")
    job = bench.new_job(layout, "Pier, shipped", source=source)
    untouched = shipped()["saltmarsh-tram"].read_bytes()
    async with run(of=job) as machine:
        await machine.press("j")
        assert "a copy of saltmarsh-tram, which comes with the program" in said(machine)
        await replace(machine, "kiosk")
        await machine.press("enter")
        copy = tmp_path / "saltmarsh-tram.toml"
        assert "a new copy of saltmarsh-tram" in said(machine)
        assert read_layout(copy) == kept(machine)
        assert (tmp_path / "layout.schema.json").is_file()
        await machine.press("j")
        assert "Kept in this job and in saltmarsh-tram.toml" in said(machine)
        await replace(machine, "door")
        await machine.press("enter")
        assert read_layout(copy) == kept(machine)
        assert kept(machine).matrix("switches").by_number[11].name == "door"
    assert shipped()["saltmarsh-tram"].read_bytes() == untouched
    assert sorted(path.name for path in tmp_path.glob("*.toml")) == ["saltmarsh-tram.toml"]


async def test_over_the_network_only_the_job_is_put_right(run: Run, own: str, file: Path) -> None:
    before = file.read_bytes()
    async with run(of=own, own_layouts=False) as machine:
        await machine.press("j")
        assert "pier.toml" not in said(machine)
        assert "Kept in this job alone" in said(machine)
        await replace(machine, "kiosk")
        await machine.press("enter")
        assert kept(machine).matrix("switches").by_number[11].name == "kiosk"
        assert file.read_bytes() == before


async def test_a_file_that_says_something_else_by_now_is_left_alone(run: Run, own: str, file: Path) -> None:
    file.write_text(file.read_text(encoding="utf-8").replace("Saltmarsh Tram", "Saltmarsh Trams"), encoding="utf-8")
    before = file.read_bytes()
    async with run(of=own) as machine:
        await machine.press("j")
        await replace(machine, "kiosk")
        await machine.press("enter")
        assert "kept in this job alone" in said(machine)
        assert kept(machine).matrix("switches").by_number[11].name == "kiosk"
        assert file.read_bytes() == before


async def test_a_file_that_cannot_be_written_keeps_nothing_from_the_job(run: Run, own: str, file: Path) -> None:
    text = file.read_bytes()
    target = file.with_name("elsewhere.toml")
    file.rename(target)
    file.symlink_to(target)
    async with run(of=own) as machine:
        await machine.press("j")
        await replace(machine, "kiosk")
        await machine.press("enter")
        assert "kept in this job alone" in said(machine)
        assert kept(machine).matrix("switches").by_number[11].name == "kiosk"
    assert target.read_bytes() == text


async def test_marks_stay_with_their_cells_and_the_grid_shows_the_new_number(
    run: Run, bench: CannedBench, own: str
) -> None:
    bench.mark(own, "switches", "11-")
    async with run(of=own) as machine:
        await machine.press("j", "down")
        await replace(machine, "19")
        await machine.press("enter")
        assert kept(machine).matrix("switches").by_number[19].key == CellKey("switches", 1, 1)
        assert (
            machine.mark("r1c1") is Mark.DEAD
            or machine.reader().state(own).standings[CellKey("switches", 1, 1)].mark is Mark.DEAD
        )
        assert " 19" in machine.text()
        await machine.type("19")
        assert machine.reader().state(own).standings[CellKey("switches", 1, 1)].mark is Mark.WORKING


async def test_another_clients_round_goes_on_with_new_names_and_ends_where_its_cells_change(
    run: Run, own: str, file: Path
) -> None:
    async with run(of=own) as machine:
        await machine.press("g", "2")
        walk = machine.app.screen
        assert not isinstance(walk, JobScreen)
        layout, source = read_found(str(file))
        other = Bench(machine.bench.path, clock=lambda: NOON, client="other")
        renamed = file.read_text(encoding="utf-8").replace('"ball trough 1"', '"trough, low"')
        assert renamed != file.read_text(encoding="utf-8")
        file.write_text(renamed, encoding="utf-8")
        layout, source = read_found(str(file))
        other.relayout(own, layout, source)
        await machine.until(lambda: machine.app.screen.desk.layout == layout)  # type: ignore[attr-defined]
        await machine.settle()
        assert machine.app.screen is walk
        other.close()


async def test_the_grid_shows_a_new_label_at_once(run: Run, own: str) -> None:
    async with run(of=own) as machine:
        await machine.press("j", "tab")
        await replace(machine, "A7")
        await machine.press("enter")
        assert " A7 " in machine.text().splitlines()[3]


async def test_a_cell_that_another_client_takes_out_of_the_layout_leaves_the_grid(
    run: Run, own: str, file: Path
) -> None:
    async with run(of=own) as machine:
        assert "12 ∙" in machine.text()
        await machine.press("down")
        taken_out = Change(Key(CellKey("switches", 2, 1), "name"), "")
        layout = edit_layout(file.read_text(encoding="utf-8"), "pier", [taken_out]).layout
        other = Bench(machine.bench.path, clock=lambda: NOON, client="other")
        other.relayout(own, layout)
        screen = machine.app.screen
        assert isinstance(screen, JobScreen)
        await machine.until(lambda: screen.grid.matrix == layout.matrix("switches"))
        await machine.settle()
        assert "12 ∙" not in machine.text()
        assert screen.grid.cursor in layout.matrix("switches").by_key
        other.close()
