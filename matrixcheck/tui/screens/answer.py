"""The answer in full: what would explain the failures, what to do first, what is left open."""

from __future__ import annotations

from pathlib import Path

from textual import work
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.worker import get_current_worker

from matrixcheck.errors import AnalysisError
from matrixcheck.tui.actions import ANSWER
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.left_off import ReadTo
from matrixcheck.tui.screens.page import read_on
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.answer import answer_rows
from matrixcheck.tui.text.spans import row, wrapped
from matrixcheck.tui.text.suspects import FAILED, OUTDATED_IN_BRIEF, WORKING, Analysis
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines


class AnswerScreen(RecordPage):
    """What the analyser makes of the job now, and what the last round came to. It is worked out beside, and again
    after every change."""

    PLACE = ANSWER

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._analysis: Analysis | None = None
        self._shown: tuple[Path, int] | None = None
        self._placeholder = WORKING

    def compose(self) -> ComposeResult:
        """Compose head, answer, what was said, keys."""
        yield Lines(self.head("The answer"), id="head")
        with VerticalScroll(id="answer", can_focus=False):
            yield Lines(id="answer-lines")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def show(self) -> None:
        """Show what is known, and have it worked out anew."""
        self._draw()
        self._diagnose(self._desk.version)

    def on_screen_suspend(self) -> None:
        """Keep how far the answer was read, for the way back."""
        super().on_screen_suspend()
        if self._analysis is not None:
            self._desk.left.answer = ReadTo(self._desk.version, round(self.query_one(VerticalScroll).scroll_y))

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        super().on_resize()
        self._draw()

    def action_scroll(self, by: int) -> None:
        """Show what is above or below."""
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False)

    def action_read_on(self) -> None:
        """Show the next page; after the last, the first again."""
        read_on(self.query_one(VerticalScroll))

    def _draw(self) -> None:
        width = self.app.size.width - 6
        old = self._analysis is not None and self._shown != self._desk.version
        self.query_one("#head", Lines).show(self.head("The answer", OUTDATED_IN_BRIEF if old else ""))
        last = [*wrapped(self._desk.last_round, width, "strong"), row()] if self._desk.last_round else []
        answer = self._analysis.answer if self._analysis else None
        rows = answer_rows(answer, width) if answer else wrapped(self._placeholder, width, "quiet")
        self.query_one("#answer-lines", Lines).show([*last, *rows])

    @work(thread=True, exclusive=True, group="analysis")
    def _diagnose(self, version: tuple[Path, int]) -> None:
        worker, desk = get_current_worker(), self._desk
        for analysis in desk.answers(lambda: worker.is_cancelled or desk.version != version):
            if worker.is_cancelled:
                return
            self.app.call_from_thread(self._diagnosed, version, analysis)

    def _diagnosed(self, version: tuple[Path, int], analysis: Analysis | Exception) -> None:
        if not self.is_open or self._desk.version != version:
            return
        if isinstance(analysis, Exception):
            self._analysis, self._placeholder = None, FAILED
            if not isinstance(analysis, AnalysisError):
                self.log.error(analysis)
        else:
            first, self._analysis, self._shown = self._analysis is None, analysis, version
            if first:
                self.call_after_refresh(self._read_on)
        self._draw()

    def _read_on(self) -> None:
        """Go on where the same answer was left; a newer one is read from the top."""
        left = self._desk.left.answer
        if self.is_open and left is not None and left.version == self._desk.version:
            self.query_one(VerticalScroll).scroll_to(y=left.top, animate=False)
