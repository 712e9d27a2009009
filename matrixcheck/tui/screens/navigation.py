"""Where the keys of the job screen lead: the screens beside it, and what becomes of what they hand back."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.coil_lock import is_coil_fuse
from matrixcheck.report.stop import notice
from matrixcheck.tui.job_session import NOTHING
from matrixcheck.tui.screens.checks import ChecksScreen
from matrixcheck.tui.screens.choose_hold import ChooseHoldScreen
from matrixcheck.tui.screens.choose_round import ChooseRoundScreen
from matrixcheck.tui.screens.later import LaterScreen
from matrixcheck.tui.screens.log import LogScreen
from matrixcheck.tui.screens.safety import SafetyScreen
from matrixcheck.tui.screens.starting import begun, resumed
from matrixcheck.tui.screens.stop import StopScreen
from matrixcheck.tui.screens.words import WordsScreen
from matrixcheck.tui.text.checking import cell_rows, places_behind, places_of, suspect_rows
from matrixcheck.tui.text.choosing import HOLD, Sort
from matrixcheck.tui.text.later import Waiting
from matrixcheck.tui.text.suspects import Analysis, proposed_holds

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Suspect
    from matrixcheck.tui.screens.job import JobScreen


class Ways:
    """The ways from one job's screen."""

    def __init__(self, job: JobScreen) -> None:
        self._job = job

    def choose_round(self, matrix_id: str, cells: Sequence[CellKey] = ()) -> None:
        """Let a round through a matrix, or some cells of it, be chosen, and begin it. Not while a coil is on."""
        if self._job.desk.state.coils.stop:
            self.stop()
            return
        matrix = self._job.desk.layout.matrix(matrix_id)

        def chosen(sort: Sort | None) -> None:
            if sort == HOLD:
                self._choose_hold(matrix)
            elif sort is not None:
                self._begin(matrix, sort, cells)

        some = [matrix.by_key[key] for key in cells if key in matrix.by_key]
        state = self._job.desk.state
        checked = any(not is_coil_fuse(one.item) for one in state.safety)
        sheet = ChooseRoundScreen(matrix, some, checked=checked, danger=notice(state.coils))
        self._job.app.push_screen(sheet, chosen)

    def later_list(self) -> None:
        """Show the later list; a group of it can become a round."""

        def chosen(group: Waiting | None) -> None:
            if group is not None:
                self.choose_round(group.matrix_id, [item.cell for item in group.items])

        self._job.app.push_screen(LaterScreen(self._job.desk), chosen)

    def checks(self, analysis: Analysis, suspect: Suspect) -> None:
        """Show the bench checks of a suspect."""
        proposed = [check for check in analysis.diagnosis.checks if check.suspect == suspect.id]
        rows = partial(suspect_rows, suspect, proposed)
        self._job.app.push_screen(ChecksScreen(self._job.desk, "Bench checks", rows, places_of(suspect)))

    def parts(self, cell: Cell) -> None:
        """Show the places that a cell works through."""
        places = places_behind(cell, self._job.desk.layout)
        screen = ChecksScreen(self._job.desk, "Parts", partial(cell_rows, cell), places)
        screen.set_class(True, "-parts")
        self._job.app.push_screen(screen)

    def safety(self) -> None:
        """Show the checks before power."""
        self._job.app.push_screen(SafetyScreen(self._job.desk))

    def stop(self) -> None:
        """Say that a coil is on at rest, and let it be recorded that its fuse is out."""
        self._job.app.push_screen(StopScreen(self._job.desk))

    def log(self) -> None:
        """Show what was recorded."""
        self._job.app.push_screen(LogScreen(self._job.desk))

    def note(self) -> None:
        """Let a note be written."""

        def written(words: str | None) -> None:
            if words is not None:
                self._job.note(words)

        self._job.app.push_screen(WordsScreen("A note on this job", "your words, then Enter"), written)

    def resume(self) -> None:
        """Take up the round that the journal holds open, or end it where a coil was on at rest."""
        state = self._job.desk.state
        kind = state.round.kind if state.round else None
        if state.round and not state.coils.allows(state.round.matrix, rest_scan=kind == "rest"):
            self._job.desk.end_round(NOTHING)
            return
        screen = resumed(self._job.desk)
        if screen is not None:
            self._job.app.push_screen(screen)

    def _choose_hold(self, matrix: Matrix) -> None:
        def chosen(held: tuple[CellKey, ...] | None) -> None:
            if held:
                self._begin(matrix, HOLD, held=held)

        self._job.app.push_screen(ChooseHoldScreen(matrix, proposed_holds(self._job.analysis, matrix.id)), chosen)

    def _begin(self, matrix: Matrix, sort: Sort, cells: Sequence[CellKey] = (), held: tuple[CellKey, ...] = ()) -> None:
        try:
            self._job.app.push_screen(begun(self._job.desk, matrix, sort, cells, held))
        except MatrixCheckError as error:
            self._job.complain(error)
