"""A temporary book with a fixed clock, the invented machine on it, and the screens run without a terminal."""

from __future__ import annotations

import shutil
import time
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from pilots import NOON, WIDE, CannedBench, Machine, Run
from stillness import BREATH, HANDLERS, PAINTED, all_read, at_rest, handlers_found_once, read_once, unpainted
from textual._compositor import Compositor
from textual._styles_cache import StylesCache
from textual.css.stylesheet import Stylesheet
from textual.message_pump import MessagePump
from textual.pilot import Pilot

from matrixcheck.bench import Bench
from matrixcheck.tui.app import KeepTheme, MakeDemo, MatrixCheckApp
from matrixcheck.tui.look import LOOK, Look
from tests.machines import saltmarsh_tram


@pytest.fixture(autouse=True)
def _colours(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)


@pytest.fixture(autouse=True)
def _clock_on_the_wall(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture(autouse=True)
def _without_waits_and_paint(monkeypatch: pytest.MonkeyPatch) -> None:
    """A key press ends when the screens are at rest, and the first analysis keeps no paint from a terminal.

    What a terminal is sent, `terminals.py` and its tests look at.
    """
    monkeypatch.setattr("matrixcheck.tui.screens.job.BREATH", BREATH)
    monkeypatch.setattr("textual.pilot.wait_for_idle", at_rest)
    monkeypatch.setattr(Pilot, "_wait_for_screen", all_read)
    monkeypatch.setattr("textual.app.wait_for_idle", at_rest)
    monkeypatch.setattr(Compositor, "render_update", unpainted)
    monkeypatch.setattr(Stylesheet, "_parse_rules", read_once)
    monkeypatch.setattr(MessagePump, "_get_dispatch_methods", handlers_found_once)
    HANDLERS.clear()  # a test may put others into a class


@pytest.fixture
def painted(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every frame is painted, for a test of what is painted."""
    monkeypatch.setattr(Compositor, "render_update", PAINTED)


@pytest.fixture(scope="session")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with one job in it, on the invented machine."""
    kept = Bench(tmp_path_factory.mktemp("opened") / "bench.book", clock=lambda: NOON)
    kept.new_job(saltmarsh_tram(), "Pier arcade, machine 4", "1187", "F. Quay")
    kept.close()
    return kept.path


@pytest.fixture
def bench(tmp_path: Path, opened: Path) -> CannedBench:
    """A bench with a copy of that book."""
    return CannedBench(Path(shutil.copyfile(opened, tmp_path / "bench.book")), clock=lambda: NOON)


@pytest.fixture
def job(bench: CannedBench) -> str:
    """The id of that job."""
    return bench.jobs()[0].id


@pytest.fixture
def run(bench: CannedBench, job: str) -> Run:
    """Run the screens at a size, on the job or (`at="bench"`) on the bench."""

    @asynccontextmanager
    async def running(
        size: tuple[int, int] = WIDE,
        at: str = "job",
        *,
        on: Bench | None = None,
        matrix: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        of: str | None = None,
        own_layouts: bool = True,
        layouts: Path | None = None,
        look: Look = LOOK,
        keep_theme: KeepTheme | None = None,
        make_demo: MakeDemo | None = None,
        own_book: Path | None = None,
    ) -> AsyncIterator[Machine]:
        opened = of or job
        app = MatrixCheckApp(
            on or bench,
            opened if at == "job" else None,
            matrix,
            clock,
            own_layouts=own_layouts,
            layouts=layouts,
            look=look,
            keep_theme=keep_theme,
            make_demo=make_demo,
            own_book=own_book,
        )
        try:
            async with app.run_test(size=size) as pilot:
                machine = Machine(app, pilot, on or bench, opened)
                await machine.settle()
                yield machine
        finally:
            # As at the end of the program. A thread that goes on would keep the screens in memory, and so would
            # Textual: it remembers what it works out for the drawn lines of the last thousand widgets, with the lines.
            app.keeping.close()
            StylesCache.get_inner_outer.cache_clear()

    return running
