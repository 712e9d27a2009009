"""Walk in time with a test that steps by itself: only exceptions are pressed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from math import ceil

from matrixcheck.layout.limits import STEP_SECONDS
from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.tui.actions import TIMED_WALK
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.round_steps import WalkTiming, entry_for, resumed_timing, unjudged_before
from matrixcheck.tui.screens.walk import AHEAD, WalkScreen
from matrixcheck.tui.text.now import coming, where
from matrixcheck.tui.text.spans import Row, row, wrapped

TICK_SECONDS = 0.05
BEATS = 8
"""Parts of the bar that runs down from one step to the next."""


class TimedWalkScreen(WalkScreen):
    """Walk in time with the machine.

    Enter marks time: once at the first device, once at the second, and again whenever the screen is out of step.
    Nothing is assumed of devices that were not judged: at the end, or when the round is ended, one question gives their
    number and asks. A walk over some devices steps through all, as the machine does, and asks about those alone.
    """

    NAME = "timed walk"
    HINT = "press only what is wrong"

    PLACE = TIMED_WALK

    def __init__(self, desk: Desk, matrix_id: str, cells: Collection[CellKey] = ()) -> None:
        super().__init__(desk, matrix_id)
        self._wanted = frozenset(cells) or frozenset(cell.key for cell in self.order)
        self._timing = self._left_off()
        self._first_tap = self._timing.began if self._timing else None
        self._resumed = self._timing is not None
        self._unseen: set[CellKey] = set()
        self._asked = False
        self._judged: int | None = None
        self._sign = ""
        self._brought_to: int | None = None
        self._beat = BEATS

    def on_mount(self) -> None:
        """Go to the device at hand, and keep looking at the clock."""
        self._tick()
        self.set_interval(TICK_SECONDS, self._tick)

    def more(self, width: int) -> Sequence[Row]:
        """Return what to do next, or how far it is."""
        if self._first_tap is None:
            return wrapped("Press Enter when the machine shows the first device.", width, "strong")
        if self._timing is None:
            return wrapped("Press Enter again when it goes on to the second, or type the seconds.", width, "strong")
        cell = self.hand()
        if cell is None:
            return (row("The walk is through.", "strong"),)
        if self._resumed:
            return wrapped(
                "Walk resumed, and paused. Bring the screen to the device that the machine shows, then press "
                "Enter when it steps. What passed meanwhile stays untested.",
                width,
                "strong",
            )
        state = "paused" if self._timing.paused_at is not None else f"every {self._timing.seconds:.1f} s"
        return (
            (
                (f"{self.place + 1} of {len(self.order)}", "strong"),
                (f"  {state} ", "quiet"),
                ("━" * self._beat, "quiet"),
            ),
            *(() if cell.key in self._wanted else (row("not in this round", "strong"),)),
            *where(cell, self._desk.layout, width),
            row(),
            *coming(self.order[self.place + 1 : self.place + 1 + AHEAD], width),
        )

    def enter_words(self) -> str:
        """Return nothing: Enter only marks time here."""
        return ""

    def submit(self, text: str) -> None:
        """Take a number as the seconds of a step before the timing is known; after that keep an entry."""
        if self._timing is not None:
            self.keep_typed(text)
            return
        try:
            seconds = float(text.replace(",", "."))
        except ValueError:
            seconds = 0.0
        if not STEP_SECONDS.holds(seconds):
            self.entry.clear()
            self.entry.say(f"! from one device to the next: {STEP_SECONDS}, as in 2.5", "alert")
            return
        self.entry.clear()
        self._start(seconds)

    def foretell(self, text: str) -> str:
        """Return what an entry would do."""
        return super().foretell(text) if self._timing is not None else "Enter sets it as seconds a device"

    def action_tap(self) -> None:
        """Take note that the machine stepped just now."""
        now = self._desk.clock()
        if self._first_tap is None:
            self._first_tap = now
        elif self._timing is None:
            self._start(STEP_SECONDS.nearest(now - self._first_tap))
        else:
            self._set(self._timing.resumed(now).stepped_now(now))
            self._resumed = False
        self._tick()
        self._brought_to = self.place
        self.draw_pane()

    def action_judge(self, sign: str) -> None:
        """Mark the device that the machine shows; time runs on.

        A key that comes just after a step goes to the device before, unless that is judged already or the screen was
        brought here by hand.
        """
        place = self.place
        late = self._timing is not None and self._timing.is_late(self._desk.clock())
        if late and place and place != self._brought_to:
            judged = unjudged_before(self.order, place, self._desk.state, self.since)
            place -= self.order[place - 1] in judged and self._judged != place - 1
        if place < len(self.order) and self.keep(f"{self.order[place].key.address}{sign}"):
            self._judged, self._sign = place, sign

    def action_earlier(self) -> None:
        """Move the last judgement to the device before."""
        if not self._judged:
            self.entry.say("no judgement to move to the device before", "quiet")
            return
        self.take_back()
        self._judged -= 1
        self.keep(f"{self.order[self._judged].key.address}{self._sign}")

    def action_go(self, by: int) -> None:
        """Move the screen on or back by whole devices, where it is behind the machine or ahead of it."""
        if self._timing is not None:
            if self._resumed:
                self._unseen |= {cell.key for cell in self.order[self.place : self.place + by]}
            self._set(self._timing.moved(by))
            self._tick()
            self._brought_to = self.place

    def action_faint(self) -> None:
        """Begin what glows faintly, once the timing is known; before that a number is its seconds."""
        if self._timing is None:
            self.entry.say("first the seconds: what glows faintly is for later", "quiet")
        else:
            super().action_faint()

    def action_page(self, name: str) -> None:
        """Show a page of the job; the walk is paused until it is brought back in step."""
        self._stop_here()
        super().action_page(name)

    def action_note(self) -> None:
        """Write a note; the walk is paused until it is brought back in step."""
        self._stop_here()
        super().action_note()

    def _stop_here(self) -> None:
        if self._timing is not None:
            self._set(self._timing.paused(self._desk.clock()))
            self._resumed = True
            self.draw_pane()

    def action_pause(self) -> None:
        """Stop, or go on."""
        if self._timing is not None:
            now = self._desk.clock()
            self._set(self._timing.resumed(now) if self._timing.paused_at is not None else self._timing.paused(now))
            self._resumed = False
            self.draw_pane()

    def skipped(self) -> tuple[Cell, ...]:
        """Return none: the end of the walk asks about what was not judged."""
        return ()

    def go_on_after(self, keys: Collection[CellKey]) -> None:
        """Go on with the machine, which steps by itself."""

    def action_undo(self) -> None:
        """Undo what was kept last; time runs on."""
        self.take_back()

    def action_leave(self) -> None:
        """Ask about the devices that were not judged, then end the round."""
        if self._timing is not None:
            self._timing = self._timing.paused(self._desk.clock())
        self._ask(self._passed())

    def _start(self, seconds: float) -> None:
        began = self._first_tap if self._first_tap is not None else self._desk.clock()
        self._first_tap = began
        self._set(WalkTiming(began, seconds))
        self._tick()
        self.draw_pane()

    def _set(self, timing: WalkTiming) -> None:
        """Keep time so from now on, and record that it is so."""
        self._timing = timing
        place = max(timing.place(self._desk.clock()), 0)
        self._desk.pace(timing.seconds, place, timing.paused_at is not None, self.outcome(lambda _: None))

    def _left_off(self) -> WalkTiming | None:
        """Return the timing of a walk that was left without being ended."""
        state = self._desk.state
        pace = state.round.pace if state.round else None
        return resumed_timing(pace, state.last_at, self._desk.clock()) if pace else None

    def _tick(self) -> None:
        if self._timing is None or self._asked:
            return
        now = self._desk.clock()
        shown, beat = self._timing.place(now), ceil(self._timing.left(now) * BEATS)
        place = max(min(shown, len(self.order)), 0)
        if place != self.place or beat != self._beat:
            self._beat = beat
            self.arrive(place)
        if shown > len(self.order) or (shown == len(self.order) and not self._timing.is_late(now)):
            self._ask(self._passed())

    def _passed(self) -> tuple[Cell, ...]:
        if self._timing is None:
            return ()
        passed = unjudged_before(self.order, self.place, self._desk.state, self.since)
        return tuple(cell for cell in passed if cell.key in self._wanted - self._unseen)

    def _ask(self, passed: tuple[Cell, ...]) -> None:
        if self._asked:
            return
        self._asked = True
        if not passed:
            super().action_leave()
            return

        def answered(yes: bool | None) -> None:
            if yes and not self.keep(entry_for(passed)):
                self._asked = False
                return
            super(TimedWalkScreen, self).action_leave()

        question = f"{len(passed)} not judged. Mark them as working?"
        numbers = " ".join(str(cell.number) for cell in passed)
        self.navigation.ask(question, f"No leaves them untested. Their numbers: {numbers}", answered)
