"""The suspects beside the grid. One of them can be chosen, to light its cells."""

from __future__ import annotations

from textual import events
from textual.message import Message

from matrixcheck.diagnosis.result import Diagnosis, Suspect
from matrixcheck.layout.model import Layout
from matrixcheck.tui.text.spans import Row
from matrixcheck.tui.text.suspects import Entry, entries, groups, verdict
from matrixcheck.tui.widgets.lines import Lines

BRIEF_BELOW = 8


class SuspectList(Lines):
    """The likeliest suspects, best first. `show_diagnosis` fills it; choosing one posts `Chosen`."""

    class Chosen(Message):
        """Another suspect was chosen, or none."""

        def __init__(self, suspect: Suspect | None) -> None:
            super().__init__()
            self.suspect = suspect

    def __init__(self, layout: Layout, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._layout = layout
        self._diagnosis: Diagnosis | None = None
        self._chosen: str | None = None
        self._first = 0

    @property
    def chosen(self) -> Suspect | None:
        """The chosen suspect."""
        return next((suspect for suspect in self._suspects if suspect.id == self._chosen), None)

    def show_diagnosis(self, diagnosis: Diagnosis) -> None:
        """Show a new diagnosis; a chosen suspect stays chosen where it is still among them."""
        members = self.chosen.members if self.chosen else ()
        self._diagnosis = diagnosis
        same = next((suspect.id for suspect in self._suspects if members and suspect.members == members), None)
        self._choose(same)

    def choose_next(self) -> None:
        """Choose the suspect after the chosen one; after the last, none."""
        ids = [suspect.id for suspect in self._suspects]
        place = ids.index(self._chosen) + 1 if self._chosen in ids else 0
        self._choose(ids[place] if place < len(ids) else None)

    def choose_none(self) -> None:
        """Let go of the chosen suspect."""
        self._choose(None)

    def on_mount(self) -> None:
        """Say that the work is under way."""
        self._draw()

    def on_resize(self) -> None:
        """Fit the lines to the room."""
        self._draw()

    def on_click(self, event: events.Click) -> None:
        """Choose the suspect that was hit, or let go of it."""
        event.stop()
        spot = self.hit(event)
        line = spot[1] - len(self._head()) + self._first if spot else -1
        for entry in self._entries():
            if entry.top <= line < entry.top + len(entry.rows):
                self._choose(None if entry.suspect.id == self._chosen else entry.suspect.id)
                return

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Show what is below."""
        event.stop()
        self._scroll(1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Show what is above."""
        event.stop()
        self._scroll(-1)

    @property
    def _suspects(self) -> tuple[Suspect, ...]:
        return tuple(suspect for _, suspects in groups(self._diagnosis) for suspect in suspects)

    def _choose(self, suspect_id: str | None) -> None:
        changed, self._chosen = suspect_id != self._chosen, suspect_id
        self._keep_chosen_in_sight()
        self._draw()
        if changed or suspect_id is not None:
            self.post_message(self.Chosen(self.chosen))

    def _entries(self) -> tuple[Entry, ...]:
        return entries(groups(self._diagnosis), self._chosen, self.size.width, self._brief)

    def _head(self) -> tuple[Row, ...]:
        if self._brief and self._suspects:
            return ()
        return verdict(self._diagnosis, self._layout, self.size.width)

    @property
    def _brief(self) -> bool:
        return self.size.height < BRIEF_BELOW

    def _lines(self) -> list[Row]:
        return [line for entry in self._entries() for line in entry.rows]

    def _scroll(self, by: int) -> None:
        last = max(len(self._lines()) + len(self._head()) - self.size.height, 0)
        self._first = max(min(self._first + by, last), 0)
        self._draw()

    def _keep_chosen_in_sight(self) -> None:
        room = self.size.height - len(self._head())
        for entry in self._entries():
            if entry.suspect.id == self._chosen:
                self._first = min(max(self._first, entry.top + len(entry.rows) - room), entry.top)
                return
        self._first = 0

    def _draw(self) -> None:
        self.show([*self._head(), *self._lines()[self._first :]])
