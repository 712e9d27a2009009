"""What is found or repaired away from test mode: at the places of a suspect, or at those behind a cell."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Literal

from textual.app import ComposeResult
from textual.containers import VerticalScroll

from matrixcheck.layout.reading import Finding
from matrixcheck.layout.wording import place_words
from matrixcheck.report.cautions import INSIDE
from matrixcheck.report.repairing import repaired_words
from matrixcheck.report.spots import Spot, place_known, spot_words
from matrixcheck.tui.actions import CHECKS, PARTS
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.screens.page import read_on
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.spans import Row, row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widths import PHONE


class FoundScreen(RecordPage):
    """What to do above, the places below; what is found at the place pointed at goes into the journal."""

    def __init__(self, desk: Desk, heading: str, rows: Callable[[int], Sequence[Row]], spots: Sequence[Spot]) -> None:
        """`rows` gives what stands above the places, in lines of at most so many characters."""
        super().__init__(desk)
        self._heading = heading
        self._rows = rows
        self._spots = tuple(spots)

    def compose(self) -> ComposeResult:
        """Compose what to do; the places, always in sight; what was kept; keys."""
        yield Lines(self.head(self._heading), id="head")
        with VerticalScroll(id="checks", can_focus=False):
            yield Wrapped(self._what_to_do)
        yield Lines([row("What did you find, and where?", "title")], id="asked")
        yield Picks((), numbered=False, airy=False, id="places")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def _what_to_do(self) -> list[Row]:
        width = self.app.size.width - (4 if self.app.size.width < PHONE else 6)
        return [*self._rows(width), *wrapped(INSIDE, width, "alert")]

    def show(self) -> None:
        """Show the places with what is known of them."""
        state, places = self._desk.state, self.query_one(Picks)
        first = not places.count
        places.offer([Pick(spot_words(spot, state.layout), place_known(spot, state)) for spot in self._spots])
        if first:
            self.return_to(places)

    def action_found(self, verdict: Literal["good", "faulty"]) -> None:
        """Keep what was found by the check, or at the place, pointed at."""
        spot = self._spots[self.query_one(Picks).here]
        place, bench, job = spot.place, self._desk.bench, self._desk.job
        if spot.code:
            keep = partial(bench.checked, job, spot.code, verdict)
            self.record(f"{spot.code} {verdict}", keep, f"kept: {spot.code} found {verdict}")
            return
        finding, named = Finding(place=place, verdict=verdict), place_words(self._desk.state.layout, place)
        self.record(f"{named} {verdict}", lambda: bench.finding(job, finding), f"kept: {named} found {verdict}")

    def action_repair(self) -> None:
        """Keep a repair of the place pointed at, or of one of the others."""
        here = self._spots[self.query_one(Picks).here].place
        others = [spot.place for spot in self._spots if not spot.code]
        places = dict.fromkeys(filter(None, [here, *others]))
        layout = self._desk.layout
        self.navigation.repair(self._desk, tuple(places), lambda made: self._say_repaired(repaired_words(made, layout)))

    def _say_repaired(self, words: str) -> None:
        if self.is_open:
            self.show()
            self.say(words, "strong")

    def action_note(self) -> None:
        """Write a note on the place pointed at."""
        spot = self._spots[self.query_one(Picks).here]
        named = spot.code or place_words(self._desk.state.layout, spot.place)
        self.ask_for_note(f"A note on {named}", f"{named}: ")

    def action_read_on(self) -> None:
        """Show the next checks; after the last, the first again."""
        read_on(self.query_one(VerticalScroll))


class ChecksScreen(FoundScreen):
    """The bench checks of a suspect, and the places that it names."""

    PLACE = CHECKS


class PartsScreen(FoundScreen):
    """The places behind a cell, of which there are more than there is to say above them."""

    PLACE = PARTS
