"""The analyses of jobs: each job's next one goes on from what its last one worked out."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, TypeAlias

from matrixcheck.record.job_state import JobState

if TYPE_CHECKING:
    from matrixcheck.diagnosis.diagnose import KeptRegions
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.diagnosis.result import Diagnosis

GivenRates: TypeAlias = "Rates | Callable[[], Rates] | None"
"""Rates of faults: a workshop's own, what makes them once they are needed, or none, for the shipped ones."""
JOBS_KEPT = 2
"""How many jobs' last analyses are kept for their next one: up to 128 MB each, and seldom are more than two in hand."""


class Analyses:
    """The analyses of jobs under the same rates of faults, the shipped ones where there are none.

    Rates that have to be made are made by the first analysis. Threads may share it.
    """

    def __init__(self, rates: GivenRates = None) -> None:
        self._given = rates
        self._making = threading.Lock()
        self._earlier: dict[str, KeptRegions] = {}
        self._lock = threading.Lock()

    def refine(
        self,
        state: JobState,
        seconds: float | None = None,
        dropped: Callable[[], bool] | None = None,
        *,
        only_last: bool = False,
    ) -> Iterator[Diagnosis]:
        """Yield better and better diagnoses of the readings that still speak, until one is finished.

        No lock is held meanwhile. `seconds`, `dropped`: as in `Bench.refine`. `only_last`: without what comes before
        the last. Raises AnalysisError when the analyser breaks down.
        """
        # Here and not above: the analyser would more than double the start of every command that doesn't need it.
        from matrixcheck.diagnosis.attempt import attempts  # noqa: PLC0415
        from matrixcheck.diagnosis.inference.kept import Kept  # noqa: PLC0415
        from matrixcheck.report.stop import held_back  # noqa: PLC0415

        # Taken out while it is in use: another analysis at the same time starts with one of its own.
        with self._lock:
            earlier = self._earlier.pop(state.id, None)
        if earlier is None or earlier.layout is not state.layout:
            earlier = Kept(state.layout)
        try:
            found_so_far = attempts(
                state.layout,
                state.judged,
                state.known,
                seconds,
                kept=earlier,
                dropped=dropped,
                rates=self._rates(),
                only_last=only_last,
            )
            for found in found_so_far:
                yield held_back(found, state.coils)
        finally:
            with self._lock:
                self._earlier[state.id] = earlier
                for oldest in list(self._earlier)[:-JOBS_KEPT]:
                    del self._earlier[oldest]

    def _rates(self) -> Rates | None:
        """Return the rates, made where they have to be. Raises as what makes them."""
        with self._making:
            if callable(self._given):
                self._given = self._given()
            return self._given
