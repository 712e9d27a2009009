"""Keep what analyses of a machine worked out for the next one: it saves work and never changes an answer."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import Generic, NamedTuple, TypeVar

from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.inference.problem import fit_store
from matrixcheck.diagnosis.inference.subjects import read_earlier, subject_of_matrix
from matrixcheck.diagnosis.inference.unknown_breaks import whole_breaks
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.prior_updates import updated_priors
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import LineKey
from matrixcheck.layout.reading import Finding, Reading

T = TypeVar("T")
Weighed = TypeVar("Weighed")
Found = TypeVar("Found")
Advised = TypeVar("Advised")


class Pool(NamedTuple):
    """Hold the faults that a layout can have, and the chance of a break by line of unknown chain, after findings."""

    candidates: tuple[Candidate, ...]
    breaks: Mapping[LineKey, float]


class Latest(Generic[T]):
    """Keep one value for each place, with the key that it was worked out under."""

    def __init__(self) -> None:
        self._values: dict[Hashable, tuple[Hashable, T]] = {}

    def get(self, place: Hashable, key: Hashable) -> T | None:
        """Return the value of a place, None where there is none of that key."""
        known = self._values.get(place)
        return known[1] if known is not None and known[0] == key else None

    def put(self, place: Hashable, key: Hashable, value: T) -> None:
        """Keep a value in place of the one before."""
        self._values[place] = key, value


class Kept(Generic[Weighed, Found, Advised]):
    """Keep the last analysis of one layout: subjects, fits, and what was weighed and found for each group of matrices.

    A matrix whose readings changed, or the rates of reading them, is prepared anew, and its group searched again.
    `advised`: what advice rests on.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.fits = fit_store()
        self._count = 0
        self._frames = {matrix.id: Frame(matrix) for matrix in layout.matrices}
        self._subjects: dict[str, tuple[Hashable, Subject | None]] = {}
        self.weighed = Latest[Weighed]()
        self.found = Latest[Found]()
        self.advised = Latest[Advised]()
        self._pools: Latest[Pool] = Latest()

    def subjects(self, readings: Sequence[Reading], rates: Rates) -> tuple[Subject, ...]:
        """Return the matrices that were read, each with its evidence. Raises UsageError for one that is too large."""
        by_matrix: dict[str, list[Reading]] = {matrix.id: [] for matrix in self.layout.matrices}
        for reading in readings:
            by_matrix[reading.matrix].append(reading)
        earlier = read_earlier(self.layout, readings)
        found = []
        for matrix in self.layout.matrices:
            its = tuple(by_matrix[matrix.id])
            wanted = its, rates.reading, earlier[matrix.id]
            before, subject = self._subjects.get(matrix.id, (None, None))
            if before != wanted:
                self._count += 1
                subject = subject_of_matrix(self._frames[matrix.id], its, rates, earlier[matrix.id])
                subject = subject and subject._replace(key=self._count)
                self._subjects[matrix.id] = wanted, subject
            if subject is not None:
                found.append(subject)
        return tuple(found)

    def pool(self, findings: tuple[Finding, ...], rates: Rates) -> Pool:
        """Return every fault that the layout can have, with its chance after these findings."""
        known = self._pools.get("all", (findings, rates))
        if known is None:
            breaks = tuple(whole_breaks(self.layout, rates))
            moved = updated_priors(self.layout, (*breaks, *candidates(self.layout, rates)), findings, rates)
            count = len(breaks)
            known = Pool(moved[count:], {one.lines[0]: one.rate for one in moved[:count]})
            self._pools.put("all", (findings, rates), known)
        return known
