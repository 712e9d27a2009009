"""The answers to jobs, worked out beside everything else: what is known now is shown, and a better one takes its place.

One thread works out one job at a time. A mark waits some milliseconds longer meanwhile, not more.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from matrixcheck.bench import Bench
from matrixcheck.record.job_state import JobState
from matrixcheck.report.answer.model import STILL_LOOKING

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Diagnosis
    from matrixcheck.report.answer.model import Answer

MOST_JOBS = 8
"""Jobs whose last answer is kept."""
IDLE_SECONDS = 600.0
"""How long what one answer worked out is kept for the next one."""


@dataclass(frozen=True)
class Found:
    """What is known of a job as of its event `seq`: nothing at first, then better and better answers, the last `whole`.

    `failed`: the analyser broke down. `version` grows with each better answer to the job.
    """

    seq: int
    diagnosis: Diagnosis | None = None
    answer: Answer | None = None
    whole: bool = False
    failed: bool = False
    version: int = 0

    @property
    def ended(self) -> bool:
        """Return whether nothing better comes."""
        return self.whole or self.failed


class Answers:
    """The answers to the jobs of one book; threads may share it. `bench` opens a bench that only looks."""

    def __init__(self, bench: Callable[[], Bench]) -> None:
        self._bench = bench
        self._turn = threading.Condition()
        self._found: dict[str, tuple[Found, JobState | None]] = {}
        self._versions: dict[str, int] = {}
        self._wanted: dict[str, int] = {}
        self._thread: threading.Thread | None = None
        self._closed = False

    def newest(self, state: JobState, patience: float = 0.0) -> Found:
        """Return what is known of a job as it stands, and have it worked out where it isn't known whole.

        Until there is an answer to its newest events, the one before is what is known. Waits up to `patience` seconds
        for the whole answer.
        """
        with self._turn:
            if not self._known(state).ended:
                self._want(state)
                self._turn.wait_for(lambda: self._closed or self._known(state).ended, patience)
            return self._known(state)

    def version(self, job: str) -> int:
        """Return a number that grows with each better answer to a job, 0 before the first."""
        return self._versions.get(job, 0)

    def close(self) -> None:
        """Drop what is being worked out."""
        with self._turn:
            self._closed = True
            self._wanted.clear()
            self._turn.notify_all()
            thread = self._thread
        if thread is not None:
            thread.join()

    def _known(self, state: JobState) -> Found:
        nothing = Found(state.seq, version=self.version(state.id))
        found, of = self._found.get(state.id, (nothing, state))
        if found.seq >= state.seq:
            return found
        # Of another layout, or from before a coil was seen on, it may name what isn't there or mustn't be done.
        if found.answer is None or of is None or of.coils != state.coils or of.layout != state.layout:
            return nothing
        return replace(found, answer=found.answer.model_copy(update={"unfinished": STILL_LOOKING}), whole=False)

    def _want(self, state: JobState) -> None:
        if self._closed:
            return
        self._wanted[state.id] = max(state.seq, self._wanted.pop(state.id, 0))
        self._turn.notify_all()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="answers", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        """Work out what is wanted, the job that was asked for last first, until nothing is for a while."""
        with closing(self._bench()) as bench:
            while (job := self._next()) is not None:
                try:
                    self._answer(bench, job)
                except Exception:
                    # Whatever it is that the analyser can't do, marks go on being kept, and the next one tries again.
                    self._tell(job, Found(self._wanted.get(job, 0), failed=True))

    def _next(self) -> str | None:
        with self._turn:
            self._turn.wait_for(lambda: self._closed or self._wanted, IDLE_SECONDS)
            job = next(reversed(self._wanted), None)
            if job is None:
                self._thread = None
            return job

    def _answer(self, bench: Bench, job: str) -> None:
        # The analyser is the one heavy import; in the thread that asks for it it keeps nobody waiting.
        from matrixcheck.report.answer.build import answer_of_job  # noqa: PLC0415

        state = bench.state(job)

        def dropped() -> bool:
            return self._wanted.get(job, 0) > state.seq or self._closed

        for found in bench.refine(job, dropped=dropped):
            if bench.state(job).seq != state.seq:
                return
            whole = found.searched.finished
            self._tell(job, Found(state.seq, found, answer_of_job(found, state, looking=not whole), whole), state)

    def _tell(self, job: str, found: Found, state: JobState | None = None) -> None:
        with self._turn:
            self._versions[job] = self.version(job) + 1
            self._found.pop(job, None)
            self._found[job] = replace(found, version=self._versions[job]), state
            for oldest in list(self._found)[:-MOST_JOBS]:
                del self._found[oldest]
            if found.ended and self._wanted.get(job, 0) <= found.seq:
                self._wanted.pop(job, None)
            self._turn.notify_all()
