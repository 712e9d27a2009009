"""What changed since another visit of the machine."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.containers import VerticalScroll

from matrixcheck.bench import Changed
from matrixcheck.record.job_state import JobState
from matrixcheck.tui.actions import COMPARE
from matrixcheck.tui.screens.page import Page, read_on
from matrixcheck.tui.text.comparing import comparison_rows
from matrixcheck.tui.text.job import danger_first
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines


class CompareScreen(Page[None]):
    """Both visits side by side."""

    PLACE = COMPARE

    def __init__(self, then: JobState, now: JobState, changes: Sequence[Changed]) -> None:
        super().__init__()
        self._visits = then, now
        self._changes = changes

    def compose(self) -> ComposeResult:
        """Compose head, changes, keys."""
        then, now = self._visits
        said: Row = (("What changed", "title"), (f"  {now.name}, since {then.name}", "quiet"))
        yield Lines([(*danger_first(now), *said)], id="head")
        with VerticalScroll(id="compared", can_focus=False):
            yield Lines(id="changes")
        yield KeyBar(self.bar(), id="keys")

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        super().on_resize()
        then, now = self._visits
        rows = comparison_rows(then, now, self._changes, self.app.size.width - 6)
        self.query_one("#changes", Lines).show(rows)

    def action_scroll(self, by: int) -> None:
        """Show what is above or below."""
        self.query_one(VerticalScroll).scroll_relative(y=by, animate=False)

    def action_read_on(self) -> None:
        """Show the next page; after the last, the first again."""
        read_on(self.query_one(VerticalScroll))

    def action_leave(self) -> None:
        """Go back to the bench."""
        self.dismiss()
