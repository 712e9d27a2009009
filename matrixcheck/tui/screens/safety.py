"""The checks before power: what to look at, and what came of it."""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.check_names import is_earth
from matrixcheck.record.earth_limit import EarthLimit, Limit, limit_typed
from matrixcheck.record.safety_checks import SafetyItem, checklist, measured, unit_of
from matrixcheck.report.cautions import DEFER, INSIDE
from matrixcheck.report.safety_asked import (
    check_name,
    check_says,
    known_limit,
    limit_without_lead,
    reading_typed,
    what_is_read,
    what_is_wrong,
)
from matrixcheck.tui.actions import SAFETY
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.screens.record_page import RecordPage
from matrixcheck.tui.text.safety import head_rows
from matrixcheck.tui.text.spans import Row, wrapped
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines, Wrapped
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widgets.toned import taken
from matrixcheck.tui.widths import PHONE


class SafetyScreen(RecordPage):
    """The usual checks, the layout's and one's own. A tap only points: nothing passes by mistake."""

    PLACE = SAFETY

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._items: tuple[SafetyItem, ...] = ()

    def compose(self) -> ComposeResult:
        """Compose head, checks, cautions, what was kept, keys."""
        yield Lines(id="head")
        yield Picks((), numbered=False, airy=False, id="groups")
        yield Wrapped(self._cautions, id="cautions")
        yield Lines(id="said")
        yield KeyBar(self.bar(), id="keys")

    def _cautions(self) -> list[Row]:
        width = self.app.size.width - 3
        defer = () if self.app.size.width < PHONE else wrapped(DEFER, width, "quiet")
        return [*wrapped(INSIDE, width, "alert"), *defer]

    def show(self) -> None:
        """Show the checks as the journal has them."""
        self._items = checklist(self._desk.state, self._desk.own_checks)
        self.query_one("#head", Lines).show(head_rows(self._items, self.app.size.width - 2))
        self.query_one(Picks).offer([Pick(check_name(one), check_says(one)) for one in self._items])

    def action_passed(self) -> None:
        """Record that it was checked, and is in order."""
        self._judge(self._here, passed=True)

    def action_failed(self) -> None:
        """Ask what is wrong with what was checked and isn't in order."""
        item = self._here
        heading, offered = what_is_wrong(self._items[self.query_one(Picks).here])

        def answered(words: str | None) -> None:
            if words is not None:
                self._judge(item, passed=False, note=words)

        hint = "a few words, or one of these" if offered else "a few words, or Enter alone"
        self.navigation.words(heading, hint, answered, offered, may_be_empty=True)

    async def on_key(self, event: events.Key) -> None:
        """Begin to type what the meter shows with a figure."""
        if event.character and event.character.isdecimal():
            taken(event)
            self._ask_for_reading(event.character)

    def action_measure(self) -> None:
        """Ask what the meter shows; it is judged against the check's limit."""
        self._ask_for_reading()

    def _ask_for_reading(self, begun: str = "", refused: str = "") -> None:
        one = self._items[self.query_one(Picks).here]
        unit, known = unit_of(one), known_limit(self._desk.state.safety)
        if not unit:
            bad, waive = (key_named(name, SAFETY, self.keymap) for name in ("bad", "put_off"))
            self.say(f"! {one.item} is not measured: Enter passes it, {bad} fails it, {waive} waives it", "alert")
            return
        limited = known is not None or self.look.mains_region is EarthLimit.FLAT
        asked, hint = what_is_read(one, unit, limited)

        def typed(words: str | None) -> None:
            if words is not None:
                self._measure(one, words, unit, known)

        self.navigation.words(refused or asked, hint, typed, begun=begun)

    def _measure(self, one: SafetyItem, words: str, unit: str, known: Limit | None) -> None:
        """Keep a reading, judged by the limit that is typed behind it, else by the one known."""
        limit: Limit | None = None
        try:
            reading, more = reading_typed(words, unit)
            if is_earth(one.item):
                rule = self.look.mains_region
                limit = limit_typed(more, rule) if more else known or limit_without_lead(rule)
            measured(one, reading, limit)
        except MatrixCheckError as error:
            self._ask_for_reading(words, f"! {error}")
            return
        bench, job, place = self._desk.bench, self._desk.job, self.query_one(Picks).here

        def kept(passed: bool) -> str:
            made = self._desk.state.safety[-1]
            if passed and place + 1 < len(self._items):
                self.query_one(Picks).point(place + 1)
            return f"kept: {made.item} {'passed' if passed else 'FAILED'}: {made.note}"

        self._desk.queue(
            f"{one.item} {words}", lambda: bench.measure_check(job, one.item, reading, limit), self._outcome(kept)
        )

    def action_waive(self) -> None:
        """Ask why the check is let go. It isn't without a reason."""
        item = self._here
        here = self._items[self.query_one(Picks).here]
        if not (here.about or here.made):
            self.say(f"! {item} is not in the book yet: pass it or fail it first", "alert")
            return

        def answered(words: str | None) -> None:
            if words is not None:
                bench, job = self._desk.bench, self._desk.job
                said = f"{item} waived"
                self.record(said, lambda: bench.waive_check(job, item, words), f"kept: {said}")

        self.navigation.words(f"{item}: why is it waived?", "the reason, then Enter", answered)

    def action_own(self) -> None:
        """Add a check of one's own."""

        def named(words: str | None) -> None:
            if words is not None:
                self._desk.own_checks = (*self._desk.own_checks, words)
                self.show()
                self.query_one(Picks).point([one.item for one in self._items].index(words))

        self.navigation.words("What else is there to check?", "a few words, then Enter", named)

    @property
    def _here(self) -> str:
        return self._items[self.query_one(Picks).here].item

    def _judge(self, item: str, *, passed: bool, note: str = "") -> None:
        place = [one.item for one in self._items].index(item)
        bench, job, words = self._desk.bench, self._desk.job, f"{item} {'passed' if passed else 'FAILED'}"
        self.record(words, lambda: bench.safety(job, item, passed, note), f"kept: {words}")
        if passed and place + 1 < len(self._items):
            self.query_one(Picks).point(place + 1)
