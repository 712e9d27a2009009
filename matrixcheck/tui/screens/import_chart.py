"""A layout made of a chart: which file, what was understood of it, and where the layout is written."""

from __future__ import annotations

import asyncio
import re
from pathlib import Path

from textual import events, work
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Input

from matrixcheck.errors import MatrixCheckError, UsageError
from matrixcheck.layout.charts.importing import Imported, import_charts
from matrixcheck.layout.charts.questions import Answers
from matrixcheck.layout.charts.sheets import read_sheets
from matrixcheck.layout.charts.understood import understood_lines
from matrixcheck.layout.schema import lay_beside
from matrixcheck.tui.actions import IMPORT_CHART
from matrixcheck.tui.screens.form import FormLine, FormPage
from matrixcheck.tui.screens.page import at_home
from matrixcheck.tui.text.spans import Tone, row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.toned import taken
from matrixcheck.whole_files import write_whole

ASKED = "The path of the manual's chart: CSV, tabs or semicolons, .xlsx, .ods. Enter reads it and shows what it says."
READ = "Enter on the last line writes the layout. PgUp and PgDn scroll."


class ImportChartScreen(FormPage[str | None]):
    """A short form. It hands back the path of the layout that was written, or None when it was left."""

    PLACE = IMPORT_CHART

    def __init__(self) -> None:
        super().__init__()
        self._imported: Imported | None = None
        self._read_of = ("", "")

    def compose(self) -> ComposeResult:
        """Compose chart, name, file; what was understood; what went wrong; keys."""
        width = self.app.size.width - 2
        yield Lines([row("A layout from a chart", "title"), *wrapped(ASKED, width, "quiet")], id="head")
        yield FormLine("chart", Input(id="chart", select_on_focus=False))
        yield FormLine("machine", Input(placeholder="as the chart says", id="name", select_on_focus=False))
        yield FormLine("layout", Input(placeholder="the file to write", id="out", select_on_focus=False))
        with VerticalScroll(id="understood", can_focus=False):
            yield Lines(id="understood-lines")
        yield Lines(id="trouble")
        yield KeyBar(self.bar(), id="keys")

    def on_mount(self) -> None:
        """Begin at the chart."""
        self.query_one("#chart", Input).focus()

    async def on_key(self, event: events.Key) -> None:
        """Scroll what was understood; else move between the lines."""
        if event.key in {"pageup", "pagedown"}:
            taken(event)
            shown = self.query_one("#understood", VerticalScroll)
            shown.scroll_relative(y=(-1 if event.key == "pageup" else 1) * max(shown.size.height - 1, 1), animate=False)
        else:
            await super().on_key(event)

    def submitted(self) -> None:
        """Read the chart, go on to the next line, or on the last one write the layout."""
        self.action_next()

    def action_next(self) -> None:
        """Read the chart where it was not read yet, else go on; on the last line write the layout."""
        if self._imported is None or self._read_of != (self.value("chart"), self.value("name")):
            self._read()
        elif self.query_one("#out", Input).has_focus:
            self._write(self._imported)
        else:
            self.action_onward(1)

    def action_leave(self) -> None:
        """Go back with nothing written."""
        self.dismiss(None)

    @work(exclusive=True, group="chart")
    async def _read(self) -> None:
        chart, name = self.value("chart"), self.value("name")
        if not chart:
            self._say("name the chart's file")
            return
        path = Path(at_home(chart))
        out = self.value("out") or str(path.with_name(f"{_file_name(name or path.stem)}.toml"))
        try:
            imported = await asyncio.to_thread(_import, path, name or None, out)
        except MatrixCheckError as error:
            self._imported = None
            self._say(f"! {error}")
            return
        if not self.is_open:
            return
        self._imported, self._read_of = imported, (chart, name)
        width = self.app.size.width - 4
        lines = [row(line) for line in understood_lines(imported, width)]
        self.query_one("#understood-lines", Lines).show(lines)
        self.query_one("#out", Input).value = out
        if self.query_one("#chart", Input).has_focus:
            self.action_onward(1)
        self._say(READ, "quiet")

    def _write(self, imported: Imported) -> None:
        out = Path(at_home(self.value("out")))
        try:
            if out.exists() or out.is_symlink():
                raise UsageError(f"{out} is there already", "name another file")
            if imported.problems:
                raise UsageError(f"the layout has problems: {imported.problems[0][0]}", "put the chart right")
            write_whole(out, imported.text)
            lay_beside(out)
        except MatrixCheckError as error:
            self._say(f"! {error}")
            return
        self.dismiss(str(out))

    def _say(self, text: str, tone: Tone = "alert") -> None:
        self.query_one("#trouble", Lines).show(wrapped(text, self.app.size.width - 2, tone))


def _import(path: Path, name: str | None, out: str) -> Imported:
    return import_charts(read_sheets(path), name, Answers({}), out)


def _file_name(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "machine"
