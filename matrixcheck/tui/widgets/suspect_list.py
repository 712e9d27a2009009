"""List the suspects beside the grid. One of them can be chosen, to light its cells."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual import events
from textual.message import Message

from matrixcheck.record.coil_lock import SWITCH_OFF_NOW
from matrixcheck.tui.text.spans import Row, plain, row, shortened, wrapped
from matrixcheck.tui.text.suspects import FAILED, WORKING, Analysis, Entry, entries, least_height, more_below, outdated
from matrixcheck.tui.widgets.item_list import Blocks, ItemList

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Fault, Suspect

BRIEF_BELOW = 8


def nearest(suspects: Sequence[Suspect], members: tuple[Fault, ...]) -> Suspect | None:
    """Return the suspect of these faults, which an answer may group otherwise: led by the same, else with most of them.

    None where none of the faults is suspected any more.
    """

    def likeness(suspect: Suspect) -> tuple[bool, bool, int]:
        shared = sum(fault in members for fault in suspect.members)
        return suspect.members == members, suspect.members[:1] == members[:1], shared

    found = [suspect for suspect in suspects if any(fault in members for fault in suspect.members)]
    return max(found, key=likeness, default=None)


class SuspectList(ItemList):
    """List the likeliest suspects, best first. `show_analysis` fills it; choosing one posts `Chosen`."""

    class Chosen(Message):
        """Another suspect was chosen, or none."""

        def __init__(self, suspect: Suspect | None) -> None:
            super().__init__()
            self.suspect = suspect

    def __init__(
        self,
        wanted: tuple[Fault, ...] = (),
        top: int = 0,
        *,
        id: str | None = None,  # noqa: A002
    ) -> None:
        """The suspect of the faults `wanted` is chosen as soon as there is an answer, and shown from its line `top`."""
        super().__init__(above=[row(WORKING, "quiet")], id=id)
        self._analysis: Analysis | None = None
        self._placeholder = WORKING
        self._chosen: str | None = None
        self._wanted = wanted
        self._top = top
        self._halted = self._outdated = False
        self._matrix_id = ""

    @property
    def analysis(self) -> Analysis | None:
        """Return what is shown."""
        return self._analysis

    @property
    def wanted(self) -> tuple[Fault, ...]:
        """Return the faults of the suspect that is chosen, or will be once an answer names it."""
        return self._wanted

    @property
    def top(self) -> int:
        """Return the first line in sight."""
        return self._top

    @property
    def chosen(self) -> Suspect | None:
        """Return the chosen suspect."""
        return next((suspect for suspect in self._suspects if suspect.id == self._chosen), None)

    def of_matrix(self, matrix_id: str) -> None:
        """List the cards of this matrix before others."""
        self._matrix_id = matrix_id
        if self._analysis is not None:
            self._analysis = self._analysis.on_screen_of(matrix_id)
            self._top = 0
            self._keep_chosen_in_sight()
            self.draw()

    def show_analysis(self, analysis: Analysis) -> None:
        """Show a new answer; a chosen suspect stays chosen while any of its faults is suspected. Not while halted."""
        if self._halted:
            return
        self._analysis, self._outdated = analysis.on_screen_of(self._matrix_id), False
        same = nearest(self._suspects, self._wanted)
        if not analysis.unfinished:
            self._wanted = () if same is None else same.members
        self._choose(None if same is None else same.id)

    def outdate(self) -> None:
        """Say that the answer is from before the last entry, until there is a newer one."""
        if self._analysis is not None:
            self._outdated = True
            self.draw()

    def halt(self, halted: bool) -> None:
        """Show nothing but that the power must go off, while a coil is on at rest."""
        if halted is not self._halted:
            self._outdated = False
            self._halted, self._analysis, self._placeholder = halted, None, SWITCH_OFF_NOW if halted else WORKING
            self._want(None)

    def fail(self) -> None:
        """Say that there is no diagnosis of what is marked now; an older one would pass for it. Not while halted."""
        if self._halted:
            return
        self._analysis, self._outdated, self._placeholder = None, False, FAILED
        self._choose(None)

    def choose_next(self) -> None:
        """Choose the suspect after the chosen one; after the last, none."""
        ids = [suspect.id for suspect in self._suspects]
        place = ids.index(self._chosen) + 1 if self._chosen in ids else 0
        self._want(ids[place] if place < len(ids) else None)

    def choose_none(self) -> None:
        """Let go of the chosen suspect."""
        self._want(None)

    def picked(self, place: int) -> None:
        """Choose the suspect that was tapped, or let go of it."""
        suspect = self._entries()[place].suspect
        if suspect is not None:
            self._want(None if suspect.id == self._chosen else suspect.id)

    def on_mouse_scroll_down(self, event: events.MouseScrollDown) -> None:
        """Show what is below."""
        event.stop()
        self._scroll(1)

    def on_mouse_scroll_up(self, event: events.MouseScrollUp) -> None:
        """Show what is above."""
        event.stop()
        self._scroll(-1)

    def on_resize(self) -> None:
        """Fit the lines to the room; none is out of sight for which there is room now."""
        if self._analysis is not None:
            self._top = min(self._top, self._last_top)
            self._keep_chosen_in_sight()
        super().on_resize()

    def _scroll(self, by: int) -> None:
        self._top = max(min(self._top + by, self._last_top), 0)
        self.draw()

    @property
    def _last_top(self) -> int:
        return max(len(self._lines()) - self.size.height, 0)

    def blocks(self) -> Blocks:
        """Return the lines of each suspect."""
        return [entry.rows for entry in self._entries()]

    def above(self) -> Sequence[Row]:
        """Return what comes before the first card: any danger and the headline.

        A chosen card has all the room but for dangers; in very little room what the search left out is said alone. Of
        the headline its first line gives way to no card.
        """
        if self._analysis is None:
            return ()
        danger = wrapped(self._analysis.danger, self.size.width, "alert") if self._analysis.danger else ()
        only_cards = self._analysis.cards and (self._brief or self._chosen is not None)
        headline = () if only_cards else self._analysis.headline
        rows = self._said(*headline)
        if self._brief or not rows:
            return (*danger, *rows)
        cards = least_height(self._analysis, self._chosen, self.size.width)
        if len(danger) + len(rows) + cards < self.size.height:
            return (*danger, *rows, ())
        return (*danger, *self._said(*headline[:1]))

    def _said(self, *headline: str) -> list[Row]:
        texts = [self._analysis.unfinished if self._analysis else "", *headline]
        return [line for text in filter(None, texts) for line in wrapped(text, self.size.width, "quiet")]

    def draw(self) -> None:
        """Show the lines that the room has place for, and say where there are more."""
        lines, (width, height) = self._lines(), self.size
        shown = self._in_room(lines) if height else tuple(lines)
        self.show(outdated(shown, width, height) if self._outdated else shown)

    def _in_room(self, lines: Sequence[Row]) -> tuple[Row, ...]:
        """Return the lines that there is room for, with a word on how many suspects follow them."""
        width, height = self.size
        first = min(self._top, max(len(lines) - height, 0))
        if len(lines) - first <= height:
            return tuple(lines[first:])
        ends = [one.top + len([each for each in one.rows if each]) for one in self._entries()]
        more = sum(end > first + height for end in ends)
        if not more:
            return shortened(lines[first:], height)
        shown = more_below(lines[first:], height, width, more)
        # The word itself may take the end of a card that would be whole.
        cut = first + height in ends and plain(lines[first + height - 1 :][:1]) not in plain(shown[-1:])
        return more_below(lines[first:], height, width, more + 1) if cut else shown

    @property
    def _suspects(self) -> tuple[Suspect, ...]:
        return self._analysis.suspects if self._analysis else ()

    def _want(self, suspect_id: str | None) -> None:
        """Choose as it was asked for: a better answer that names other suspects doesn't change that."""
        if suspect_id is None:
            self._top = 0
        self._wanted = next((one.members for one in self._suspects if one.id == suspect_id), ())
        self._choose(suspect_id)

    def _choose(self, suspect_id: str | None) -> None:
        changed, self._chosen = suspect_id != self._chosen, suspect_id
        self._keep_chosen_in_sight()
        self.draw()
        if changed or suspect_id is not None:
            self.post_message(self.Chosen(self.chosen))

    def _entries(self) -> tuple[Entry, ...]:
        if self._analysis is None:
            return ()
        above = len(self.above())
        # The blank line after the last suspect is there for what stands below.
        room = self.size.height - above + (0 if self._brief else 1)
        listed = entries(self._analysis, self._chosen, self.size.width, room, self._brief)
        return tuple(entry._replace(top=above + entry.top) for entry in listed)

    @property
    def _brief(self) -> bool:
        return self.size.height < BRIEF_BELOW

    def _lines(self) -> list[Row]:
        rows = [line for entry in self._entries() for line in entry.rows]
        if rows and not rows[-1] and not self._beside():
            rows.pop()
        return [*self.above(), *(rows if rows and self._brief else (*rows, *self._beside()))]

    def _beside(self) -> tuple[Row, ...]:
        if self._analysis is None:
            return wrapped(self._placeholder, self.size.width, "alert" if self._halted else "quiet")
        return tuple(line for text in self._analysis.below for line in wrapped(text, self.size.width, "quiet"))

    def _keep_chosen_in_sight(self) -> None:
        for entry in self._entries() if self._chosen is not None else ():
            if entry.suspect is not None and entry.suspect.id == self._chosen:
                self._top = min(max(self._top, entry.top + len(entry.rows) - self.size.height), entry.top)
                return
        # Dangers come first, however far down the list was read.
        danger = self._analysis is not None and self._analysis.danger
        self._top = min(self._top, self._last_top) if self._top and not danger else 0
