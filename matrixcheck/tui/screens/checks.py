"""What would decide about a suspect: its bench checks, and what was found at its places."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Literal

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.reading import Finding
from matrixcheck.report.cautions import INSIDE
from matrixcheck.tui.desk import Desk
from matrixcheck.tui.screens.page import PHONE, Page
from matrixcheck.tui.text.checking import check_rows, place_words, places_of
from matrixcheck.tui.text.spans import row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar, caps_of
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Pick, Picks

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck, Suspect


class ChecksScreen(Page[None]):
    """The checks above, the suspect's places below; what is found at the place pointed at goes into the journal."""

    TITLE_OF_HELP = "Bench checks"

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("g", "found('good')", "good", tooltip="found good"),
        Binding("x", "found('faulty')", "faulty", tooltip="found faulty"),
        Binding("r", "found('replaced')", "repaired", tooltip="repaired or replaced"),
        Binding("up", "step(-1)", "above", key_display="↑"),
        Binding("down", "step(1)", "below", key_display="↓"),
        Binding("space", "read_on", "read on", key_display="Space", tooltip="read on, at the end from the top"),
        Binding("question_mark", "help", "keys", key_display="?"),
        Binding("escape,k", "leave", "back", key_display="Esc"),
    ]

    def __init__(self, desk: Desk, suspect: Suspect, checks: Sequence[BenchCheck]) -> None:
        super().__init__()
        self._desk = desk
        self._suspect = suspect
        self._checks = tuple(checks)
        self._places = places_of(suspect)

    def compose(self) -> ComposeResult:
        """The suspect and its checks; its places, always in sight; what was kept; keys."""
        width = self.app.size.width - (4 if self.app.size.width < PHONE else 6)
        yield Lines([(("Bench checks", "title"),)], id="head")
        with VerticalScroll(id="checks", can_focus=False):
            yield Lines(
                [
                    *wrapped(self._suspect.says, width, "title"),
                    row(),
                    *check_rows(self._checks, width),
                    *wrapped(INSIDE, width, "alert"),
                ]
            )
        yield Lines([row("What did you find, and where?", "title")], id="asked")
        yield Picks(
            [Pick(place_words(place, self._desk.layout)) for place in self._places], numbered=False, id="places"
        )
        yield Lines(id="said")
        yield KeyBar(caps_of(self.BINDINGS), id="keys")

    def action_found(self, verdict: Literal["good", "faulty", "replaced"]) -> None:
        """Keep what was found at the place pointed at."""
        place = self._places[self.query_one(Picks).here]
        said = self.query_one("#said", Lines)
        try:
            self._desk.bench.finding(self._desk.job, Finding(place=place, verdict=verdict))
        except MatrixCheckError as error:
            said.show([row(f"! {error}", "alert")])
            return
        words = "repaired: its cells are to be tested again" if verdict == "replaced" else f"found {verdict}"
        said.show([row(f"kept: {place} {words}", "strong")])

    def action_read_on(self) -> None:
        """Show the next checks; after the last, the first again."""
        checks = self.query_one("#checks", VerticalScroll)
        if checks.scroll_offset.y < checks.max_scroll_y:
            checks.scroll_page_down(animate=False)
        else:
            checks.scroll_home(animate=False)

    def action_step(self, by: int) -> None:
        """Point at another place."""
        self.query_one(Picks).step(by)

    def action_leave(self) -> None:
        """Back to the job."""
        self.dismiss()
