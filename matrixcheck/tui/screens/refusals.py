"""Entries that were refused are set aside, so that nothing typed after them is lost or mixed into them."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events

from matrixcheck.errors import MatrixCheckError
from matrixcheck.tui.actions.shared import DROP_REFUSED, TAKE_UP
from matrixcheck.tui.keymap import cap_of, key_of
from matrixcheck.tui.screens.grid_screen import GridScreen
from matrixcheck.tui.text.keys import Cap
from matrixcheck.tui.text.refused import RefusedEntry, refused_words
from matrixcheck.tui.widgets.toned import taken
from matrixcheck.tui.widths import PHONE


class RefusalsScreen(GridScreen):
    """A screen on which a refused entry stays in sight until it is put right or dropped.

    It leaves the line at once. One key takes the first of them up again; so does Backspace that comes right after.
    """

    _taken_up: RefusedEntry | None = None
    """The one that is being put right; it counts as refused until that is done."""
    _just_refused = False

    async def go_to_matrix(self, matrix_id: str) -> bool:
        """Go to a matrix; whether this screen can."""
        return matrix_id == self._matrix_id

    def on_mount(self) -> None:
        """Say what was refused before, on another screen."""
        self.show_refused()

    def on_screen_resume(self) -> None:
        """Say what was refused meanwhile, on another screen."""
        self.show_refused()

    def refuse(self, text: str, error: MatrixCheckError) -> None:
        """Set an entry aside, and say why it was refused."""
        refused = self._desk.refused
        if self._taken_up in refused:
            refused.remove(self._taken_up)
        self._taken_up = None
        refused.append(RefusedEntry(self._matrix_id, self.grid.cursor, text, str(error)))
        self.complain(error)
        self.show_refused()

    def refuse_typed(self, text: str, error: MatrixCheckError) -> None:
        """Set aside what stands in the line."""
        self.entry.clear()
        self.refuse(text, error)
        self._just_refused = True

    def settled(self) -> None:
        """Let the refused entry that was taken up be done with."""
        if self._taken_up in self._desk.refused:
            self._desk.refused.remove(self._taken_up)
            self.show_refused()
        self._taken_up = None

    def show_refused(self) -> None:
        """Show which entries were refused, and the keys for them."""
        keys = (key_of(action, self.keymap) for action in (TAKE_UP, DROP_REFUSED))
        self.entry.set_aside(refused_words(self._desk.refused, *keys))
        self.show_keys()

    def waiting_caps(self) -> Sequence[Cap]:
        """Return the keys for what waits to be kept; on a phone those for what was refused too."""
        tiles = self._desk.refused and self.app.size.width < PHONE
        refused = (cap_of(action, self.keymap) for action in (TAKE_UP, DROP_REFUSED)) if tiles else ()
        return (*super().waiting_caps(), *refused)

    async def on_key(self, event: events.Key) -> None:
        """Take up what was refused just now by the key that would have shortened it."""
        just, self._just_refused = self._just_refused, False
        if just and event.key == "backspace" and not self.entry.text:
            taken(event)
            self._take_up(self._desk.refused[-1])
            self.entry.take("backspace", None)

    async def action_take_up(self) -> None:
        """Take the first refused entry up again."""
        if not self._desk.refused:
            self.entry.say("nothing was refused", "quiet")
        elif self.entry.text:
            self.entry.say("first keep what is typed, or drop it with Esc", "quiet")
        else:
            first = self._desk.refused[0]
            if await self.go_to_matrix(first.matrix_id):
                self.grid.move_to(first.cell)
                self._take_up(first)
            else:
                self.entry.say(f"{first.text} is of {first.matrix_id}: end the round to put it right", "quiet")

    def action_drop_refused(self) -> None:
        """Drop the refused entry that was taken up, else the first."""
        if not self._desk.refused:
            self.entry.say("nothing was refused", "quiet")
            return
        dropped = self._taken_up or self._desk.refused[0]
        if self._taken_up is not None:
            self.entry.clear()
        self._taken_up = dropped
        self.settled()
        self.entry.say(f"dropped: {dropped.text}", "quiet")

    def _take_up(self, one: RefusedEntry) -> None:
        self._taken_up = one
        self.entry.paste(one.text)
        self.entry.say(f"! {one.why}", "alert")
