"""The ways from a job to what lies beside it, and what is kept on the way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matrixcheck.layout.wording import short_words
from matrixcheck.tui.actions import JOB
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.keymap import key_named
from matrixcheck.tui.screens.analysed import AnalysedScreen
from matrixcheck.tui.text.number_keys import pressed
from matrixcheck.tui.text.refused import lost_words
from matrixcheck.tui.text.suspects import Analysis, deciding

if TYPE_CHECKING:
    pass


class JobWays(AnalysedScreen):
    """A screen of a job from which rounds, lists and pages are reached."""

    def __init__(self, desk: Desk, matrix_id: str) -> None:
        super().__init__(desk, matrix_id)
        self._summary: Callable[[], Sequence[str]] | None = None
        self._came_to = ""

    def action_round(self) -> None:
        """Choose a round through this matrix."""
        self.navigation.choose_round(self, self.matrix.id)

    def action_list(self) -> None:
        """Show the later list; a group of it can become a round."""
        if not self._stopped():
            self.navigation.later_list(self)

    def action_decide(self) -> None:
        """Walk through the most informative cells for the suspects."""
        if self._stopped():
            return
        cells = deciding(self.analysis, self.chosen)
        if cells:
            self.navigation.choose_round(self, cells[0].matrix, cells)
        else:
            key = pressed(key_named("checks", JOB, self.keymap), self.matrix) or "checks"
            self.entry.say(f"no test of a cell would help further; {key} shows the bench checks of a suspect", "quiet")

    def action_checks(self) -> None:
        """Show the bench checks of the chosen suspect, or of the likeliest."""
        if self._stopped():
            return
        analysis = self.analysis
        suspect = self.chosen or next(iter(analysis.suspects if analysis else ()), None)
        if analysis is None or suspect is None:
            self.entry.say("there is no suspect yet", "quiet")
            return
        self.navigation.checks(self, analysis, suspect)

    def action_parts(self) -> None:
        """Show what the cell under the cursor works through."""
        self.navigation.parts(self, self.cell)

    def action_repair(self) -> None:
        """Keep a repair: at the places of the chosen suspect, else behind the cell under the cursor."""
        # Here and not above: the first paint needs none of it.
        from matrixcheck.report.repairing import repaired_words  # noqa: PLC0415
        from matrixcheck.report.spots import likely_places, places_behind  # noqa: PLC0415

        layout = self._desk.layout
        places = likely_places(self.chosen) if self.chosen else places_behind(self.cell, layout)
        self.navigation.repair(self._desk, places, lambda made: self.tell(repaired_words(made, layout)))

    def action_retest(self) -> None:
        """Walk through what is due for a retest in this matrix, else in the first that has such cells."""
        if self._stopped():
            return
        due = dict.fromkeys(key.matrix for key in self._desk.state.due)
        if due:
            self.navigation.retest(self, self._matrix_id if self._matrix_id in due else next(iter(due)))
        else:
            self.entry.say("nothing is due for a retest", "quiet")

    def action_correct(self) -> None:
        """Put the layout right at the cell under the cursor."""
        self.navigation.correct(self, self.cell)

    def tell(self, words: str) -> None:
        """Say what was kept."""
        if self.is_open:
            self._say_kept(words)

    def action_functions(self) -> None:
        """Show the rest of the test mode."""
        if not self._stopped():
            self.navigation.page("functions", self._desk)

    def action_accept(self) -> None:
        """Accept that the lamp under the cursor glows at rest, or no longer."""
        key, back = self.cell.key, self._desk.state.standings[self.cell.key].accepted is not None
        said = f"{short_words(self.cell)}: {'counts again' if back else 'its glow is normal here'}"
        bench, job = self._desk.bench, self._desk.job
        self._desk.queue(
            said,
            lambda: bench.accept(job, [key], back=back),
            self.outcome(lambda _: self._say_kept(f"kept: {said}")),
        )

    def action_bench(self) -> None:
        """Go back to the bench; what was refused would be lost, so that is asked first."""
        refused = self._desk.refused
        if not refused:
            self.dismiss()
            return

        def answered(yes: bool | None) -> None:
            if yes:
                self.dismiss()

        self.navigation.ask(*lost_words(refused), answered)

    def _stopped(self) -> bool:
        """Return whether a coil on at rest forbids the step that a key asked for; then that is said."""
        if self._desk.state.coils.stop:
            self.navigation.stop(self)
        return self._desk.state.coils.stop

    def round_left(self, closing: Callable[[], Sequence[str]]) -> None:
        """Say what a round that was left came to, once all of it is kept."""
        self._summary = closing
        self.entry.say("", "quiet")
        self._say_closing()

    def _say_closing(self) -> None:
        if self._summary is None or self._desk.keeping.busy:
            return
        words, self._summary = " ".join(self._summary()), None
        if not words:
            return
        self._desk.last_round = words
        # Behind what was called back since: a book that is slow to keep must not hide that.
        self._came_to = " ".join(filter(None, [self.entry.said, words]))
        if not self.entry.text:
            self.entry.say(self._came_to, "strong")

    def _diagnosed(self, version: tuple[Path, int], analysis: Analysis) -> None:
        """Show a diagnosis; the first after a round is said with what the round came to."""
        super()._diagnosed(version, analysis)
        if self._came_to and self._desk.version == version and not analysis.unfinished:
            was, said = (" ".join((each, *analysis.headline[:1])) for each in (self._desk.last_round, self._came_to))
            if self.is_open and self.entry.said == self._came_to:
                self.entry.say(said, "strong")
            self._came_to, self._desk.last_round = "", was
