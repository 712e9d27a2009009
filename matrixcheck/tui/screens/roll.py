"""Rolling: balls roll, the machine shows numbers, you type them."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from textual import events

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell
from matrixcheck.layout.numbering import parse_number
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import short_words
from matrixcheck.tui.actions import ROLL
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.keymap import keys_of
from matrixcheck.tui.messages import Ring
from matrixcheck.tui.round_steps import untested
from matrixcheck.tui.screens.entry_page import PAD
from matrixcheck.tui.screens.round import RoundScreen
from matrixcheck.tui.text.keys import Cap, without_keys
from matrixcheck.tui.text.now import left_over
from matrixcheck.tui.text.number_keys import goes_on, means_numbers, speaks_on
from matrixcheck.tui.text.search import alike
from matrixcheck.tui.text.spans import Row, wrapped

NAMES = 4


class RollScreen(RoundScreen):
    """Each number typed is kept and called back large. Letters look for a name. What works already only blinks."""

    NAME = "roll"
    HINT = "number or letters, then Enter"

    PLACE = ROLL

    def __init__(self, desk: Desk, matrix_id: str, cells: Collection[CellKey] = ()) -> None:
        super().__init__(desk, matrix_id, cells)
        self._at_hand: Cell | None = None
        self._alike: tuple[Cell, ...] = ()
        self._choice = 0
        self._named: Cell | None = None

    def phone_caps(self) -> Sequence[Cap]:
        """Return a keypad, so that nobody needs a soft keyboard."""
        return (*self.keypad(PAD[: PAD.index("0") + 1]), *without_keys(super().phone_caps()))

    def wants(self, event: events.Key) -> bool:
        """Return whether a key begins an entry: all that can be typed does, but for the keys that are actions."""
        character = event.character or " "
        held = {key for action in self.PLACE.actions for key in keys_of(action, self.keymap)}
        return character.isprintable() and character != " " and character not in held

    def hand(self) -> Cell | None:
        """Return what was typed last."""
        return self._at_hand

    def more(self, width: int) -> Sequence[Row]:
        """Return what is left; with nothing left, what became of the repairs that it was for."""
        left = untested(self.order, self._desk.state)
        closing = () if left else [line for words in self.closing() for line in wrapped(words, width, "strong")]
        return (*left_over(left, width, "left to test"), *closing)

    def foretell(self, text: str) -> str:
        """Return what an entry would do, or the names that are like it."""
        said, more = super().foretell(text), goes_on(text, self.matrix)
        named = said in ("", more) and any(map(str.isalpha, text)) and not means_numbers(text, self.matrix)
        self._alike = self._found(text) if named else ()
        self._choice = 0
        self._named = None
        return self._offer() or said

    async def action_keep_typed(self) -> None:
        """Keep what was typed; with nothing typed since, tick the device that was called back by its name."""
        named, self._named = self._named, None
        if named is not None and not self.entry.text.strip():
            self._tick(named)
        else:
            await super().action_keep_typed()

    def submit(self, text: str) -> None:
        """Keep it, or blink where it says nothing new. A name is called back first, and Enter then ticks it."""
        if self._alike:
            self._named, self._alike = self._alike[self._choice], ()
            self.entry.clear()
            self.settled()
            self._call(self._named)
            self.entry.say(f"Enter ticks {short_words(self._named)}", "strong")
            return
        number = parse_number(text)
        cell = None if number is None else self.matrix.by_number.get(number)
        if cell is not None:
            self._tick(cell)
            return
        cells = self.keep_typed(text)
        if cells:
            self._call(self.matrix.by_key[cells[-1]])

    def completed(self, text: str) -> str:
        """Return an entry that begins with a sign with the number typed last, of which it speaks."""
        return f"{self._at_hand.number}{text}" if self._at_hand and speaks_on(text) else text

    def refuse_typed(self, text: str, error: MatrixCheckError) -> None:
        """Set aside what stands in the line. What begins with a sign speaks of it from then on, and of none before."""
        super().refuse_typed(text, error)
        self._at_hand = None
        self.draw_pane()

    def action_undo(self) -> None:
        """Undo what was kept last; nothing is at hand then."""
        self.take_back()
        self._at_hand = self._named = None
        self.draw_pane()

    def action_other(self) -> None:
        """Point at another of the names found."""
        if self._alike:
            self._choice = (self._choice + 1) % len(self._alike)
            self.entry.say(self._offer(), "quiet")

    def is_news(self, cell: Cell) -> bool:
        """Return whether it says anything new that this one answered."""
        standing = self._desk.state.standings[cell.key]
        return standing.mark is not Mark.WORKING or standing.intermittent or standing.deferred is not None

    def _found(self, text: str) -> tuple[Cell, ...]:
        return tuple(self.order[place] for place in alike(text, [cell.name for cell in self.order], NAMES))

    def _offer(self) -> str:
        if not self._alike:
            return ""
        first, *others = self._alike[self._choice :] + self._alike[: self._choice]
        also = ", ".join(short_words(cell) for cell in others)
        return f"Enter takes {short_words(first)}" + (f"; Tab for {also}" if also else "")

    def _tick(self, cell: Cell) -> None:
        self._alike = ()
        if not self.is_news(cell):
            self.entry.clear()
            self.settled()
            self.entry.say(f"{short_words(cell)} works already", "quiet")
            self._call(cell)
            self.grid.blink(cell.key)
        elif self.keep(cell.key.address):
            self._call(cell)

    def _call(self, cell: Cell) -> None:
        self._at_hand = cell
        self.grid.move_to(cell.key)
        self.draw_pane()
        self.post_message(Ring())
