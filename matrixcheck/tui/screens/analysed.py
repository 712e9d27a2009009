"""What a screen of a job does for its suspects: it has the job analysed beside, again after every change."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.timer import Timer
from textual.worker import get_current_worker

from matrixcheck.errors import AnalysisError, MatrixCheckError
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.screens.marking import MarkingScreen
from matrixcheck.tui.text.suspects import Analysis
from matrixcheck.tui.widgets.suspect_list import SuspectList

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Suspect


PATIENCE = 0.3
"""Seconds that an analysis may take before the answer from before is marked as that. Most take less."""


class AnalysedScreen(MarkingScreen):
    """A screen that lists suspects. One analysis runs at a time, off the event loop, and again while there is news."""

    def __init__(self, desk: Desk, matrix_id: str) -> None:
        super().__init__(desk, matrix_id)
        self._analysed: tuple[Path, int] | None = None
        self._shown: tuple[Path, int] | None = None
        self._analysing = False
        self._patience: Timer | None = None

    @property
    def analysis(self) -> Analysis | None:
        """Return the diagnosis that is shown."""
        return self.query_one(SuspectList).analysis

    @property
    def chosen(self) -> Suspect | None:
        """Return the suspect whose cells are lit."""
        return self.query_one(SuspectList).chosen

    @property
    def analysed(self) -> bool:
        """Return whether what is shown beside the grid was made of all that the journal holds."""
        return self._analysed == self._desk.version

    def _analyse(self) -> None:
        if not self._analysing and not self.analysed:
            self._analysing = True
            if self._patience is None and self.analysis is not None:
                self._patience = self.set_timer(PATIENCE, self._say_outdated)
            self._diagnose(self._desk.version)

    def _say_outdated(self) -> None:
        """Say that the answer that is shown doesn't know of the last entry, where there is none yet that does."""
        self._patience = None
        if self.is_open and self._shown != self._desk.version:
            self.query_one(SuspectList).outdate()

    @work(thread=True, exclusive=True, group="analysis")
    def _diagnose(self, version: tuple[Path, int]) -> None:
        """Show each diagnosis as it comes. What was recorded meanwhile ends it, and it begins again from there."""
        worker, desk = get_current_worker(), self._desk
        for analysis in desk.answers(lambda: worker.is_cancelled or desk.version != version):
            if worker.is_cancelled:
                return
            self.app.call_from_thread(
                self._failed if isinstance(analysis, Exception) else self._diagnosed, version, analysis
            )
        if not worker.is_cancelled:
            self.app.call_from_thread(self._ready, version)

    def _diagnosed(self, version: tuple[Path, int], analysis: Analysis) -> None:
        if self.is_open and self._desk.version == version:
            self._shown = version
            self.query_one(SuspectList).show_analysis(analysis)

    def _failed(self, version: tuple[Path, int], error: Exception) -> None:
        if not self.is_open:
            return
        if self._desk.version == version:
            self.query_one(SuspectList).fail()
        if isinstance(error, MatrixCheckError) and not isinstance(error, AnalysisError):
            self.complain(error)
        else:
            self.log.error(error)

    def _ready(self, version: tuple[Path, int]) -> None:
        self._analysing, self._analysed = False, version
        self._analyse()
