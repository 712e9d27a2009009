"""Nothing on any screen is cut without a mark: the screens of the demo's evening, at every size."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from pilots import NARROW, NOON, PHONE, WIDE, Clock, Machine, Run
from textual._context import visible_screen_stack
from textual.containers import ScrollableContainer
from textual.geometry import Region
from textual.widget import Widget

from matrixcheck.bench import Bench
from matrixcheck.cli.evening import played, the_evening
from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.layout.model import Cell
from matrixcheck.tui.screens.ask import AskScreen
from matrixcheck.tui.screens.job import JobScreen
from matrixcheck.tui.text.spans import plain
from matrixcheck.tui.widgets.grid import MatrixGrid
from matrixcheck.tui.widgets.lines import Lines

ROOM = (220, 100)
"""A screen on which everything has room."""
STOPS = {
    "switches": (
        "",
        "s",
        "s s",
        "24 99 enter",
        "g",
        "p",
        "j",
        "question_mark",
        "x",
        "a",
        "t",
        "h",
        "l",
        "w",
        "o",
        "f l i g",
        "m",
        "g 1 27 enter 99 enter",
        "g 2",
        "g 3 11 enter",
        "g 4",
        "k",
    ),
    "lamps": ("", "g 1", "g 2", "g 2 5 enter", "g 2 5 enter right escape", "g 3", "g 3 enter"),
    "coils": ("", "g", "g 1"),
    "inputs": ("",),
    "lighting": ("",),
}
PHONE_WORDS = {"take", "drop"}
"""Words that stand on a phone's tiles alone."""
MARKS = "…↑↓«»▲▼"


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book of the demo's evening."""
    book = tmp_path_factory.mktemp("demo") / "evening.book"
    for _ in played(the_evening(), book):
        pass
    return book


Answered = list[tuple[object, list[Diagnosis]]]


@pytest.fixture(scope="module")
def answered() -> Answered:
    """What was worked out, and of what."""
    return []


class RememberingBench(Bench):
    """A bench that works out once what screens of all sizes ask."""

    def __init__(self, path: Path, answered: Answered) -> None:
        super().__init__(path, clock=lambda: NOON)
        self._answered = answered

    def refine(
        self, job: str, seconds: float | None = None, dropped: Callable[[], bool] | None = None
    ) -> Iterator[Diagnosis]:
        """All answers to what the job's readings say, also where nobody waits for the last of them."""
        del seconds, dropped
        state = self.state(job)
        asked = (state.layout, state.judged, state.known, state.coils)
        known = [answers for one, answers in self._answered if one == asked]
        if not known:
            known.append([*super().refine(job)])
            self._answered.append((asked, known[0]))
        yield from known[0]


def keys(stop: str) -> list[str]:
    """The keys to a stop; figures stand together."""
    return [key for word in stop.split() for key in (word if word.isdecimal() else [word])]


async def walk(machine: Machine, stops: tuple[str, ...]) -> list[tuple[str, list[str], list[str]]]:
    """Each stop with the lines of its screen and with what is cut there; back at the job after each."""
    found = []
    for stop in stops:
        await machine.press(*keys(stop))
        found.append((stop, in_front(machine), [*hidden(machine), *hidden_cells(machine)]))
        await home(machine)
    return found


async def home(machine: Machine) -> None:
    """Go back to the job, with nothing chosen, typed or refused there."""
    asked = False
    for _ in range(8):
        if isinstance(machine.app.screen, JobScreen):
            break
        again, asked = asked, asked or isinstance(machine.app.screen, AskScreen)
        await machine.press("enter" if again and isinstance(machine.app.screen, AskScreen) else "escape")
    screen = machine.app.screen
    assert isinstance(screen, JobScreen)
    await machine.press(*["delete"] * len(screen.desk.refused))
    await machine.press("escape", "escape", "home")


def in_front(machine: Machine) -> list[str]:
    """The lines of the screen in front, without those that it lies over."""
    visible_screen_stack.set([])
    return [strip.text.rstrip() for strip in machine.app.screen._compositor.render_strips()]


def hidden(machine: Machine) -> list[str]:
    """The widgets of the screen in front whose last lines are out of sight without a mark."""
    found = []
    for widget in machine.app.screen.query(Lines):
        rows, seen = widget.rows, seen_of(widget)
        scrolls = [one for one in widget.ancestors if isinstance(one, ScrollableContainer) and one.max_scroll_y]
        if scrolls:
            barless = [one for one in scrolls if not (one.show_vertical_scrollbar and one.scrollbar_size_vertical)]
            found += [f"{one!r}: scrolls, and shows no bar" for one in barless]
        elif len(rows) > seen.height and shows(widget) and plain(rows[seen.height :]).strip():
            last = widget.render_line(seen.height - 1).text.rstrip() if seen.height else ""
            if not any(sign in last for sign in MARKS):
                found.append(f"{widget!r}: {len(rows)} lines in {seen.height}, and the last is {last!r}")
    return found


def shows(widget: Lines) -> bool:
    """Whether a widget is there to be seen, and not on a sheet that is turned away."""
    return all(one.display for one in widget.ancestors_with_self if isinstance(one, Widget))


def seen_of(widget: Lines) -> Region:
    region = widget.content_region.intersection(widget.screen.region)
    for one in widget.ancestors:
        if hasattr(one, "content_region") and one is not widget.screen and not isinstance(one, ScrollableContainer):
            region = region.intersection(one.content_region)
    return region


def hidden_cells(machine: Machine) -> list[str]:
    """The grids that show a part without saying so."""
    found = []
    for grid in machine.app.screen.query(MatrixGrid):
        rows, columns = grid.matrix.size
        text = machine.text()
        if grid.geometry.columns < columns and "«" not in text and "»" not in text:
            found.append("columns are out of sight")
        if grid.geometry.rows < rows and not any(sign in text for sign in "▲▼↑↓"):
            found.append("rows are out of sight")
    return found


def words(lines: list[str]) -> set[str]:
    return {word for line in lines for word in re.findall(r"[A-Za-z]{2,}", line)}


def cut(lines: list[str], whole: set[str]) -> list[str]:
    """The words that are the beginning of another and no word themselves, without an ellipsis behind them."""
    known = {word.lower() for word in whole}
    found = []
    for line in lines:
        for word in re.finditer(r"[A-Za-z]{2,}", line):
            text, after = word[0].lower(), line[word.end() : word.end() + 1]
            if (
                text not in known
                and after != "…"
                and text not in PHONE_WORDS
                and any(one.startswith(text) for one in known)
            ):
                found.append(f"{word[0]!r} in {line.strip()!r}")
    return found


@pytest.mark.slow
@pytest.mark.parametrize("matrix", STOPS)
async def test_nothing_is_cut_without_a_mark(
    run: Run, evening: Path, tmp_path: Path, matrix: str, answered: Answered
) -> None:
    walks = {}
    known: set[str] = set()
    for size in (ROOM, WIDE, NARROW, PHONE):
        bench = RememberingBench(Path(shutil.copy(evening, tmp_path)), answered)
        job = bench.jobs()[0].id
        known |= {word for one in bench.state(job).layout.matrices for cell in one.fitted for word in named(cell)}
        async with run(size, on=bench, of=job, matrix=matrix, clock=Clock()) as machine:
            walks[size] = await walk(machine, STOPS[matrix])
        bench.close()
    known |= {word for _, lines, _ in walks[ROOM] for word in words(lines)}
    found = [
        f"{size} {stop!r}: {each}"
        for size in (WIDE, NARROW, PHONE)
        for stop, lines, cuts in walks[size]
        for each in (*cuts, *cut(lines, known))
    ]
    assert found == [], "\n".join(found)


def named(cell: Cell) -> set[str]:
    """All words of a cell."""
    return words([cell.name, cell.notes.zone or "", cell.notes.reach or ""])
