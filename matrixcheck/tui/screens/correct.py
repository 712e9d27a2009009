"""Putting the layout right in mid-job: a cell and its lines as a form."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from textual.app import ComposeResult
from textual.containers import Vertical, VerticalScroll
from textual.widgets import Input

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.edit.keys import Change, Key
from matrixcheck.layout.model import Cell
from matrixcheck.tui.actions import CORRECT
from matrixcheck.tui.job_session import Desk, Outcome, Said
from matrixcheck.tui.screens.form import FormLine, FormPage
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.correcting import Field, chain_words, changes_of, sheets_of, walked
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.choice_input import ChoiceInput
from matrixcheck.tui.widgets.item_list import ItemList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped


class SheetNames(ItemList):
    """The names of the sheets, one of them the one shown."""

    def __init__(self, names: Sequence[str]) -> None:
        self._sheet_names = tuple(names)
        self._shown = 0
        super().__init__(self.blocks(), id="sheets")

    def blocks(self) -> list[list[Row]]:
        """Return a line for each."""
        return [
            [row(f"{'▸' if place == self._shown else ' '} {name}", "here" if place == self._shown else "key")]
            for place, name in enumerate(self._sheet_names)
        ]

    def turn_to(self, place: int) -> None:
        """Show that another one is shown."""
        self._shown = place
        self.draw()


class CorrectScreen(FormPage[None], RecordPage):
    """The sheets of a cell, its column and its row. What is typed on one stays there while another is shown.

    `keep` keeps changes; `kept` is called with what that gives, as the form closes. `where` says beforehand where they
    go.
    """

    PLACE = CORRECT

    def __init__(self, desk: Desk, cell: Cell, where: str, keep: Callable[[Sequence[Change]], Any], kept: Said) -> None:
        super().__init__(desk)
        self._where = where
        self._keep = keep
        self._kept = kept
        self._sent = False
        self._sheets = sheets_of(cell, desk.layout)
        self._shown = 0
        self._inputs: dict[Key, Input] = {
            field.key: ChoiceInput(field.value, field.options)
            if field.options
            else Input(field.value, select_on_focus=False)
            for sheet in self._sheets
            for field in sheet.fields
        }

    def compose(self) -> ComposeResult:
        """Compose head, the names of the sheets, their fields, what the field is for, what went wrong, keys."""
        yield Lines(self.head("Put the layout right"), id="head")
        with VerticalScroll(id="groups", can_focus=False):
            yield SheetNames([sheet.name for sheet in self._sheets])
            for sheet in self._sheets:
                with Vertical(classes="form-sheet"):
                    yield from (FormLine(field.word, self._inputs[field.key]) for field in sheet.fields)
            yield Lines(id="hint")
        yield Wrapped(lambda: wrapped(self._where, self.app.size.width - 2, "quiet"), id="where")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def on_mount(self) -> None:
        """Begin at the name of the cell."""
        self._turn_to(0)

    def on_item_list_picked(self, message: ItemList.Picked) -> None:
        """Turn to the sheet that was tapped."""
        message.stop()
        self._turn_to(message.place)

    def on_descendant_focus(self) -> None:
        """Say what the line is for."""
        self._say_what_for()

    def on_input_changed(self) -> None:
        """Say what is left of a chain."""
        self._say_what_for()

    def submitted(self) -> None:
        """Take the number met along a wire, or keep all."""
        self.action_keep()

    def action_sheet(self, by: int) -> None:
        """Turn to another sheet."""
        self._turn_to((self._shown + by) % len(self._sheets))

    def action_keep(self) -> None:
        """Keep what was changed; along a wire first take the number that was met."""
        try:
            if self._walks_on(self._here):
                return
            changes = changes_of(self._sheets, self._typed, self._desk.layout)
        except MatrixCheckError as error:
            self.say(f"! {error}", "alert")
            return
        if not changes:
            self.dismiss()
        elif not self._sent:
            self._sent = True
            words = ", ".join(change.key.field.replace("_", " ") for change in changes)
            self._desk.queue(
                f"layout: {words}",
                lambda: self._keep(changes),
                Outcome(
                    lambda answer: self.call_later(self._leave_with, answer),
                    lambda error: self.call_later(self._refused, f"! {error}"),
                ),
                dropped=lambda: self.call_later(self._refused, "not kept"),
            )

    def action_leave(self) -> None:
        """Leave; what was typed is lost only on a yes."""
        typed = self._typed
        if all(typed[field.key] == field.value for sheet in self._sheets for field in sheet.fields):
            self.dismiss()
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.dismiss()

        self.navigation.ask("Leave without keeping?", "What was typed here is lost.", answered)

    @property
    def _typed(self) -> Mapping[Key, str]:
        return {key: one.chosen if isinstance(one, ChoiceInput) else one.value for key, one in self._inputs.items()}

    @property
    def _here(self) -> Field:
        """Return the field that is typed in; the first of the sheet where none is."""
        fields = self._sheets[self._shown].fields
        return next((field for field in fields if self._inputs[field.key].has_focus), fields[0])

    def _walks_on(self, field: Field) -> bool:
        """Take what was typed of a chain as far as it goes; whether there is more to type, or to look at."""
        line = self._inputs[field.key]
        typed = line.value.strip()
        if field.key.field != "chain" or typed in ("", field.value):
            return False
        found = walked(field.key, typed, self._desk.layout)
        if found.whole and found.text == typed:
            return False
        line.value = found.text
        line.cursor_position = len(found.text)
        self.say(found.says if found.whole else "", "strong")
        return True

    def _turn_to(self, place: int) -> None:
        self._shown = place
        for at, sheet in enumerate(self.query(".form-sheet")):
            sheet.display = at == place
        self.query_one(SheetNames).turn_to(place)
        self._inputs[self._sheets[place].fields[0].key].focus()
        self._say_what_for()

    def _say_what_for(self) -> None:
        if not self.is_open:
            return
        field = self._here
        typed = self._inputs[field.key].value
        says = "; ".join(filter(None, [field.hint, "Space changes it" if field.options else ""]))
        if field.key.field == "chain" and typed.strip() != field.value:
            says = chain_words(field.key, typed, self._desk.layout)
        self.query_one("#hint", Lines).show(wrapped(says, self.app.size.width - 4, "quiet"))

    def _leave_with(self, answer: object) -> None:
        if self.is_open:
            self.dismiss()
        self._kept(answer)

    def _refused(self, words: str) -> None:
        self._sent = False
        self.say(words, "alert")
