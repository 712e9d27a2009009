"""What earlier analyses of a machine worked out, for the next one. It saves work and never changes an answer."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Generic, TypeVar

from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.inference.problem import fit_store, subject_of_matrix
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading

Found = TypeVar("Found")


class Kept(Generic[Found]):
    """The last analysis of one layout: its matrices with their readings, its fits, and what was found for each group
    of matrices. A matrix whose readings changed is read anew, and with it the group that it is in."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.fits = fit_store()
        self._count = 0
        self._subjects: dict[str, tuple[tuple[Reading, ...], Subject | None]] = {}
        self._found: dict[Hashable, tuple[Hashable, Found]] = {}

    def subjects(self, readings: Sequence[Reading], rates: Rates) -> tuple[Subject, ...]:
        """The matrices that were read, each with its evidence. Raises UsageError for a matrix that is too large."""
        by_matrix: dict[str, list[Reading]] = {matrix.id: [] for matrix in self.layout.matrices}
        for reading in readings:
            by_matrix[reading.matrix].append(reading)
        found = []
        for matrix in self.layout.matrices:
            its = tuple(by_matrix[matrix.id])
            before, subject = self._subjects.get(matrix.id, ((), None))
            if before != its or matrix.id not in self._subjects:
                self._count += 1
                subject = subject_of_matrix(matrix, its, rates)
                subject = subject and subject._replace(key=self._count)
                self._subjects[matrix.id] = its, subject
            if subject is not None:
                found.append(subject)
        return tuple(found)

    def once(self, place: Hashable, key: Hashable, find: Callable[[], Found], cut: Callable[[], bool]) -> Found:
        """What was found at that place for the same key before, else what `find` gives, which then takes its place.

        Where `cut` then says that the search was cut short, it is not kept: another search may go on.
        """
        known = self._found.get(place)
        if known is not None and known[0] == key:
            return known[1]
        found = find()
        if not cut():
            self._found[place] = key, found
        return found
