"""The rest of the test mode, displays to play test: what to try, and what came of it."""

from __future__ import annotations

from textual.app import ComposeResult

from matrixcheck.layout.model import Kind
from matrixcheck.record.events import FunctionVerdict
from matrixcheck.record.function_lists import FunctionLine, function_lists
from matrixcheck.report.cautions import BY_KIND
from matrixcheck.report.functions import line_name, line_says
from matrixcheck.tui.actions import FUNCTIONS
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.functions import head_rows
from matrixcheck.tui.text.job import danger_first
from matrixcheck.tui.text.spans import wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widgets.picks import Pick, Picks


class FunctionsScreen(RecordPage):
    """The usual lines, the layout's and one's own. A tap only points: nothing is good by mistake."""

    PLACE = FUNCTIONS

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._lines: tuple[FunctionLine, ...] = ()

    def compose(self) -> ComposeResult:
        """Compose head, lines, cautions, what was kept, keys."""
        yield Lines(id="head")
        yield Picks((), numbered=False, airy=False, id="groups")
        yield Wrapped(lambda: wrapped(BY_KIND[Kind.COIL], self.app.size.width - 3, "alert"), id="cautions")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def show(self) -> None:
        """Show the lines as the journal has them."""
        self._lines = function_lists(self._desk.state)
        title, *counted = head_rows(self._lines, self.app.size.width - 2)
        self.query_one("#head", Lines).show([(*danger_first(self._desk.state), *title), *counted])
        self.query_one(Picks).offer([Pick(line_name(one), line_says(one)) for one in self._lines])

    def action_verdict(self, verdict: FunctionVerdict) -> None:
        """Keep what came of the line, and go on to the next."""
        self._keep(self._here, verdict)
        place = self.query_one(Picks).here
        if place + 1 < len(self._lines):
            self.query_one(Picks).point(place + 1)

    def action_fails(self, verdict: FunctionVerdict) -> None:
        """Ask what is wrong with the line that fails, or comes and goes."""
        name = self._here

        def answered(words: str | None) -> None:
            if words is not None:
                self._keep(name, verdict, words)

        self.navigation.words(f"{name}: what is wrong?", "a few words, or Enter alone", answered, may_be_empty=True)

    def action_own(self) -> None:
        """Add a line of one's own to the list of the line pointed at; it is kept with what came of it."""
        section = self._lines[self.query_one(Picks).here].section

        def named(words: str | None) -> None:
            if words is not None:
                self._keep(f"{section}: {words}", "faulty")

        self.navigation.words(f"What else is faulty: {section}?", "a few words, then Enter", named)

    @property
    def _here(self) -> str:
        return self._lines[self.query_one(Picks).here].name

    def _keep(self, name: str, verdict: FunctionVerdict, note: str = "") -> None:
        bench, job, words = self._desk.bench, self._desk.job, f"{name} {verdict}"
        self.record(words, lambda: bench.function(job, name, verdict, note), f"kept: {words}")
