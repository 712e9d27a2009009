"""Putting a machine on the bench: which layout, what it is called, its serial number."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Input

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.files import choosable, find_layout, read_found
from matrixcheck.layout.model import Layout
from matrixcheck.layout.source import LayoutSource
from matrixcheck.tui.actions import BENCH, NEW_JOB
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.screens.form import FormPage
from matrixcheck.tui.screens.page import at_home
from matrixcheck.tui.text.spans import wrapped
from matrixcheck.tui.widgets.item_list import ItemList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widgets.name_list import NameList

FIELDS = ("layout", "name", "serial", "owner")
ASKED = {
    "listed": "Layout: choose one",
    "own": "Layout: choose one that comes with the program, or type the path of your own file",
    "name": "What is this job called?",
    "serial": "Serial number and owner, where there are any; {key} on the bench fills them in later",
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
        yield Lines([(("A machine for the bench", "title"),)], id="head")
        with VerticalScroll(id="form", can_focus=False):
            yield self._asked(ASKED["own" if self._own_layouts else "listed"])
            yield NameList(self._listed, id="layouts")
            yield Input(self._begun, placeholder="layout", id="layout", select_on_focus=False)
            yield self._asked(ASKED["name"])
            yield Input(placeholder="name", id="name", select_on_focus=False)
            later = ASKED["serial"].format(key=key_named("correct", BENCH, self.keymap))
            yield self._asked(later)
            yield Input(placeholder="serial number", id="serial", select_on_focus=False)
            yield Input(placeholder="owner's reference", id="owner", select_on_focus=False)
        yield Lines(id="trouble")
        yield KeyBar(self.bar(), id="keys")

    def _asked(self, words: str) -> Wrapped:
        return Wrapped(lambda: wrapped(words, self.app.size.width - 6, "quiet"))

    def on_mount(self) -> None:
        """Begin at the layout, or at the name where the layout is known."""
        self.query_one("#name" if self._begun else "#layout", Input).focus()

    def on_item_list_picked(self, message: ItemList.Picked) -> None:
        """Take the layout and go on to the name."""
        message.stop()
        self.query_one("#layout", Input).value = self._listed[message.place]
        self.query_one("#name", Input).focus()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Show which layout is meant so far."""
        event.stop()
        if event.input.id == "layout":
            typed = self.value("layout")
            self.query_one(NameList).complete(typed, self._meant(typed) if typed else None)

    def action_onward(self, by: int) -> None:
        """Go to another line; from the line of the layout through the names below it."""
        if not (self._at == "layout" and self.query_one(NameList).step(by)):
            super().action_onward(by)

    def submitted(self) -> None:
        """Go on to the next line; on the last one start the job."""
        self.action_next()

    def action_next(self) -> None:
        """Go on to the next line, unless this one lacks something; after the last start the job."""
        self._take_pointed()
        missing = self._missing(FIELDS[: FIELDS.index(self._at) + 1])
        if missing:
            self.query_one(f"#{missing}", Input).focus()
        elif self._at == FIELDS[-1]:
            self._start()
        else:
            self._say("")
            self.query_one(f"#{FIELDS[FIELDS.index(self._at) + 1]}", Input).focus()

    @property
    def _at(self) -> str:
        """Return the line that is being filled in."""
        focused = self.focused.id if self.focused is not None else None
        return focused if focused in FIELDS else FIELDS[0]

    def _take_pointed(self) -> None:
        pointed = self.query_one(NameList).pointed
        if pointed is not None and self._at == "layout":
            self.query_one("#layout", Input).value = pointed

    def _missing(self, fields: Sequence[str]) -> str:
        """Say what is missing or wrong in these lines, and return the first such line; "" where nothing is."""
        if self._layout() is None:
            return "layout"
        if "name" in fields and not self.value("name"):
            self._say("a name is needed")
            return "name"
        return ""

    def _start(self) -> None:
        found = self._layout()
        if found is None:
            return
        try:
            layout, source = found
            job = self._bench.new_job(
                layout, self.value("name"), self.value("serial"), self.value("owner"), source=source
            )
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

    def _meant(self, typed: str) -> str | None:
        """Return the layout that is meant by what is typed so far, None where none or several are."""
        try:
            return self._completed(at_home(typed) if self._own_layouts else typed)
        except MatrixCheckError:
            return None

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
