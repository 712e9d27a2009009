"""Putting a machine on the bench: which layout, what it is called, its serial number."""

from __future__ import annotations

from pathlib import Path

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Input

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.files import choosable, find_layout, read_found
from matrixcheck.layout.model import Layout
from matrixcheck.layout.source import LayoutSource
from matrixcheck.tui.actions import NEW_JOB
from matrixcheck.tui.screens.form import FormPage
from matrixcheck.tui.screens.page import at_home
from matrixcheck.tui.text.spans import row, wrapped
from matrixcheck.tui.widgets.item_list import ItemList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines

ASKED = {
    "listed": "Layout: choose one",
    "own": "Layout: choose one that comes with the program, or type the path of your own file",
    "name": "What is this job called?",
    "serial": "Serial number and owner, where there are any",
}


class NewJobScreen(FormPage[str | None]):
    """A short form. It hands back the new job's id, or None when it was left.

    `own_layouts` says whether a path may be typed: never where the form is filled in over the network. `folder` is one
    whose layouts can be chosen as well.
    """

    PLACE = NEW_JOB

    def __init__(self, bench: Bench, own_layouts: bool, folder: Path | None, layout: str = "") -> None:
        """`layout` is filled in already."""
        super().__init__()
        self._begun = layout
        self._bench = bench
        self._own_layouts = own_layouts
        self._folder = folder
        self._listed = tuple(choosable(folder))

    def compose(self) -> ComposeResult:
        """Compose layout, name, serial, owner; what went wrong; keys."""
        width = self.app.size.width - 6
        yield Lines([(("A machine for the bench", "title"),)], id="head")
        with VerticalScroll(id="form", can_focus=False):
            yield Lines(wrapped(ASKED["own" if self._own_layouts else "listed"], width, "quiet"))
            yield ItemList([[row(f"  {name}", "key")] for name in self._listed], id="layouts")
            yield Input(self._begun, placeholder="layout", id="layout", select_on_focus=False)
            yield Lines(wrapped(ASKED["name"], width, "quiet"))
            yield Input(placeholder="name", id="name", select_on_focus=False)
            yield Lines(wrapped(ASKED["serial"], width, "quiet"))
            yield Input(placeholder="serial number", id="serial", select_on_focus=False)
            yield Input(placeholder="owner's reference", id="owner", select_on_focus=False)
        yield Lines(id="trouble")
        yield KeyBar(self.bar(), id="keys")

    def on_mount(self) -> None:
        """Begin at the layout, or at the name where the layout is known."""
        self.query_one("#name" if self._begun else "#layout", Input).focus()

    def on_item_list_picked(self, message: ItemList.Picked) -> None:
        """Take the layout and go on to the name."""
        message.stop()
        self.query_one("#layout", Input).value = self._listed[message.place]
        self.query_one("#name", Input).focus()

    def submitted(self) -> None:
        """Go on to the next line; on the last one, or with all that is needed, start the job."""
        self.action_start()

    def action_start(self) -> None:
        """Start the job, or go to what is still missing or wrong."""
        found = self._layout()
        if found is None:
            self.query_one("#layout", Input).focus()
            return
        name, field = self.value("name"), self.query_one("#name", Input)
        if not name:
            self._say("a name is needed" if field.has_focus else "")
            field.focus()
            return
        try:
            layout, source = found
            job = self._bench.new_job(layout, name, self.value("serial"), self.value("owner"), source=source)
        except MatrixCheckError as error:
            self._say(f"! {error}")
            return
        self.dismiss(job)

    def action_leave(self) -> None:
        """Go back to the bench with nothing started."""
        self.dismiss(None)

    def _layout(self) -> tuple[Layout, LayoutSource] | None:
        """Return the layout that is named, by the start of its name if no other begins so, and where it was read.

        None where there is none.
        """
        typed = self.value("layout")
        if not typed:
            self._say("a layout is needed")
            return None
        try:
            named = self._completed(at_home(typed) if self._own_layouts else typed)
            found = read_found(named, own=self._own_layouts, folder=self._folder)
        except MatrixCheckError as error:
            self._say(f"! {error}")
            return None
        self.query_one("#layout", Input).value = named
        return found

    def _completed(self, typed: str) -> str:
        """Complete the start of a listed layout's name, where no other is meant; else give back what was typed.

        Raises MatrixCheckError where nothing is meant.
        """
        try:
            find_layout(typed, own=self._own_layouts, folder=self._folder)
        except MatrixCheckError:
            begin = [name for name in choosable(self._folder) if name.startswith(typed)]
            if len(begin) != 1:
                raise
            return begin[0]
        return typed

    def _say(self, text: str) -> None:
        self.query_one("#trouble", Lines).show(wrapped(text, self.app.size.width - 2, "alert"))
