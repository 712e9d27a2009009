"""Putting a job's name, its serial number and its owner right."""

from __future__ import annotations

from collections.abc import Mapping

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input

from matrixcheck.bench import JobSummary
from matrixcheck.tui.actions import EDIT_JOB
from matrixcheck.tui.screens.form import FormLine, FormPage
from matrixcheck.tui.text.spans import row
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines

FIELDS = ("name", "serial", "owner")


class EditJobScreen(FormPage[Mapping[str, str] | None]):
    """A form that is filled in as the job is. It hands back what was changed, None where it was left."""

    PLACE = EDIT_JOB

    def __init__(self, job: JobSummary) -> None:
        super().__init__()
        self._was = {"name": job.name, "serial": job.serial, "owner": job.owner}

    def compose(self) -> ComposeResult:
        """Compose the lines, what is missing, keys."""
        yield Lines([row("What is known of the job", "title")], id="head")
        with Vertical(id="edited"):
            for field in FIELDS:
                yield FormLine(field, Input(self._was[field], id=field, select_on_focus=False))
        yield Lines(id="trouble")
        yield KeyBar(self.bar(), id="keys")

    def on_mount(self) -> None:
        """Begin at the name."""
        self.query_one("#name", Input).focus()

    def submitted(self) -> None:
        """Keep it."""
        self.action_keep()

    def action_keep(self) -> None:
        """Hand back what was changed; a job keeps some name."""
        if not self.value("name"):
            self.query_one("#trouble", Lines).show([row("a name is needed", "alert")])
            self.query_one("#name", Input).focus()
            return
        self.dismiss({field: self.value(field) for field in FIELDS if self.value(field) != self._was[field]})

    def action_leave(self) -> None:
        """Go back with nothing changed."""
        self.dismiss(None)
