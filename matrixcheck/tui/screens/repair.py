"""Keeping a repair: what was repaired, what was done, what was fitted, its value, and what was wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.naming import place_named
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import RepairMade
from matrixcheck.report.cautions import INSIDE
from matrixcheck.report.repairing import usual_work
from matrixcheck.report.spots import Spot, place_known, spot_words
from matrixcheck.tui.actions import REPAIR
from matrixcheck.tui.job_session import Desk, Outcome
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.screens.form import FormLine, FormPage
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.repairing import IN_LAYOUT, OUTSIDE, meant
from matrixcheck.tui.text.spans import wrapped
from matrixcheck.tui.widgets.item_list import ItemList
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widgets.picks import Pick, Picks

FIELDS = (("what", "what"), ("did", "done"), ("fitted", "fitted"), ("value", "value"), ("wrong", "wrong"))
HINTS = {
    "did": "what was done",
    "fitted": "what was put in",
    "value": "its rating, or what was measured",
    "wrong": "what was wrong, or a note",
}


class RepairScreen(FormPage[None], RecordPage):
    """A form that is filled in as far as the place at hand says. Enter keeps it; `kept` gets the repair then."""

    PLACE = REPAIR

    def __init__(self, desk: Desk, places: Sequence[str], kept: Callable[[RepairMade], object]) -> None:
        """`places` are those at hand, likeliest first."""
        super().__init__(desk)
        self._places = tuple(places)
        self._kept = kept
        self._outside = False
        self._sent = False
        self._usual = ""

    def compose(self) -> ComposeResult:
        """Compose the lines; what the name stands for; the places at hand; cautions; what was refused; keys."""
        yield Lines(self.head("Repair"), id="head")
        with Vertical(id="repair-form"):
            for field, name in FIELDS:
                yield FormLine(name, Input(placeholder=HINTS.get(field, ""), id=field))
            yield Lines(id="outside")
        yield Lines(id="meant")
        yield Picks((), numbered=False, airy=False, id="places")
        yield Wrapped(lambda: wrapped(INSIDE, self.app.size.width - 2, "alert"), id="cautions")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def on_mount(self) -> None:
        """Begin with the likeliest place, at what was done; without one, at the place."""
        if self._places:
            self._take(0)
        self.query_one("#did" if self._places else "#what", Input).focus()

    def show(self) -> None:
        """Show the places at hand with what is known of them, and what the name stands for."""
        state = self._desk.state
        spots = [Spot(place) for place in self._places]
        self.query_one(Picks).offer([Pick(spot_words(spot, state.layout), place_known(spot, state)) for spot in spots])
        self._say_what_is_meant()

    def on_input_changed(self, event: Input.Changed) -> None:
        """Say what the name stands for."""
        event.stop()
        if event.input.id == "what":
            self._fill_in_usual_work()
            self._say_what_is_meant()

    def on_item_list_picked(self, message: ItemList.Picked) -> None:
        """Take the place that was tapped."""
        message.stop()
        self._take(message.place)

    def action_other(self) -> None:
        """Take the next of the places at hand."""
        if self._places:
            self._take((self.query_one(Picks).here + 1) % len(self._places))

    def action_outside(self) -> None:
        """Say that it is outside the layout, or inside after all."""
        self._outside = not self._outside
        self._fill_in_usual_work()
        self._say_what_is_meant()

    def submitted(self) -> None:
        """Keep the repair."""
        self.action_keep()

    def action_keep(self) -> None:
        """Keep the repair, or go to what is missing or not understood."""
        what, did = self.value("what"), self.value("did")
        missing = self._missing(what, did)
        if missing:
            field, says = missing
            self.say(says, "alert")
            self.query_one(f"#{field}", Input).focus()
            return
        if self._sent:
            return
        self._sent = True
        bench, job, outside = self._desk.bench, self._desk.job, self._outside
        fitted, value, wrong = (self.value(field) for field in ("fitted", "value", "wrong"))

        def keep() -> RepairMade:
            return bench.repair(job, what, wrong, did=did, fitted=fitted, value=value, outside=outside)

        self._desk.queue(
            f"repair of {what}",
            keep,
            Outcome(
                lambda made: self.call_later(self._leave_with, made),
                lambda error: self.call_later(self._refused, f"! {error}"),
            ),
            dropped=lambda: self.call_later(self._refused, "not kept"),
        )

    def _missing(self, what: str, did: str) -> tuple[str, str] | None:
        """Return the line that is missing or not understood, and what to say of it."""
        if not what:
            return "what", "name what was repaired"
        if self._outside:
            return None if did else ("did", "say what was done: it is outside the layout")
        try:
            place_named(what, self._desk.layout)
        except MatrixCheckError as error:
            return "what", f"! {error}"
        return None

    def _leave_with(self, made: RepairMade) -> None:
        if self.is_open:
            self.dismiss()
        self._kept(made)

    def _refused(self, words: str) -> None:
        self._sent = False
        self.say(words, "alert")

    def _take(self, place: int) -> None:
        self.query_one(Picks).point(place)
        self._outside = False
        self.query_one("#what", Input).value = place_words(self._desk.layout, self._places[place])

    def _fill_in_usual_work(self) -> None:
        """Fill in what is mostly done there, unless something else was typed."""
        usual, field = self._usual, self.query_one("#did", Input)
        self._usual = "" if self._outside else usual_work(self.value("what"), self._desk.layout)
        if field.value == usual:
            field.value = self._usual
            field.action_select_all()  # What is typed takes its place.

    def _say_what_is_meant(self) -> None:
        key = key_named("outside", REPAIR, self.keymap)
        said = f"{key}: {IN_LAYOUT if self._outside else OUTSIDE}"
        self.query_one("#outside", Lines).show(wrapped(said, self.app.size.width - 4, "quiet"))
        width = self.app.size.width - 4
        self.query_one("#meant", Lines).show(meant(self.value("what"), self._desk.layout, self._outside, key, width))
