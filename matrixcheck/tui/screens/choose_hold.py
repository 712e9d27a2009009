"""Which switches to keep closed in a hold round."""

from __future__ import annotations

from collections.abc import Sequence

from textual import events
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.screen import ModalScreen

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.entry import parse_places
from matrixcheck.report.rounds import held_together
from matrixcheck.tui.actions import CHOOSE_HOLD
from matrixcheck.tui.keymap import tiles_of
from matrixcheck.tui.screens.pick_page import PickPage
from matrixcheck.tui.text.keys import TAKE_BACK, Cap, pad, without_keys
from matrixcheck.tui.text.number_keys import keypad, letter_keys
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.entry_line import EntryLine
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Wrapped
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widgets.toned import taken
from matrixcheck.tui.widths import PHONE, sheet_width

Held = tuple[CellKey, ...]


class ChooseHoldScreen(PickPage[Held | None], ModalScreen[Held | None]):
    """Hands back the switches to hold: a set that the analyser proposes, or one that was typed."""

    DEFAULT_CLASSES = "over"
    DIGITS_PICK = False

    PLACE = CHOOSE_HOLD

    def __init__(self, matrix: Matrix, proposed: Sequence[Held]) -> None:
        super().__init__()
        self._matrix = matrix
        self._proposed = tuple(proposed)
        self._turned = False

    def compose(self) -> ComposeResult:
        """Compose what to do, the proposals, a line for numbers of one's own, keys."""
        with VerticalScroll(id="sheet", can_focus=False):
            yield Wrapped(self._asked, classes="sheet-line")
            yield Picks([self._offered(held) for held in self._proposed], numbered=False, airy=False)
            yield EntryLine("numbers to hold")
            yield KeyBar(self._caps())

    def _asked(self) -> list[Row]:
        asked = (
            "Close these switches and keep them closed, then press Enter; or type the numbers of others."
            if self._proposed
            else "Close some switches, no two in one row or column, keep them closed, and type their numbers."
        )
        return [row("A hold round", "title"), *wrapped(asked, sheet_width(self.app.size.width)), row()]

    async def on_key(self, event: events.Key) -> None:
        """Take all that can be typed as numbers to hold."""
        entry = self.query_one(EntryLine)
        if event.key == "enter" and entry.text.strip():
            taken(event)
            self._take(entry.text)
        elif event.key not in {"escape", "enter"} and entry.take(event.key, event.character):
            taken(event)

    def picked(self, place: int) -> None:
        """Hand back that set."""
        self.dismiss(self._proposed[place])

    def action_type(self, sign: str) -> None:
        """Type a key of the keypad on the screen."""
        self.query_one(EntryLine).take(*(("backspace", None) if sign == TAKE_BACK else (sign, sign)))

    def action_turn_pad(self) -> None:
        """Put letters in the place of the digits on the keypad, or these back."""
        self._turned = not self._turned
        self.query_one(KeyBar).use(self._caps())

    def action_take_or_pick(self) -> None:
        """Take what was typed, else the set pointed at."""
        entry = self.query_one(EntryLine)
        if entry.text.strip():
            self._take(entry.text)
        else:
            self.action_pick()

    def _caps(self) -> Sequence[Cap]:
        if self.app.size.width >= PHONE:
            return self.bar()
        enter, leave = without_keys(tiles_of(CHOOSE_HOLD, self.keymap))
        if self._turned:
            return (*keypad((), self._matrix, turned=True), enter, leave)
        hyphen = pad("-" if any("-" in str(cell.number) for cell in self._matrix.fitted) else "")
        digits = (*pad(("7", "8", "9", TAKE_BACK)), enter, *pad("456 "), leave, *pad("1230"))
        return (*digits, *hyphen, *letter_keys(self._matrix))

    def _take(self, text: str) -> None:
        try:
            held = parse_places(text, self._matrix)
        except MatrixCheckError as error:
            self._refuse(str(error))
            return
        together = held_together(self._matrix, held)
        if together:
            self._refuse(together)
        else:
            self.dismiss(held)

    def _refuse(self, why: str) -> None:
        self.query_one(EntryLine).say(f"! {why}", "alert")

    def _offered(self, held: Held) -> Pick:
        """Return numbers and names, however many lines these take: each of the switches must be closed."""
        cells = [self._matrix.by_key[key] for key in held if key in self._matrix.by_key]
        numbers = " ".join(str(cell.number) for cell in cells)
        return Pick(numbers, ", ".join(cell.name for cell in cells))
