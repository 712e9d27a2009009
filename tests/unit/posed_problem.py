"""The search problem that readings pose, as the analyser poses it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from matrixcheck.diagnosis.inference.candidate_weighing import problem_of
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.subjects import subjects_of
from matrixcheck.diagnosis.inference.unknown_breaks import drawn_breaks
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading


def posed(
    layout: Layout, readings: Sequence[Reading], rates: Rates, pool: Iterable[Candidate], work: Work | None = None
) -> Problem:
    """The problem of all matrices that were read, with breaks of unknown chains drawn from the readings."""
    subjects = subjects_of(layout, readings, rates)
    return problem_of(subjects, (*pool, *drawn_breaks(subjects, rates)), work)
