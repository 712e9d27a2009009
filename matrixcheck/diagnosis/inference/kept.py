"""Keep what analyses of a machine worked out for the next one: it saves work and never changes an answer."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from typing import Generic, TypeVar

from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.inference.problem import fit_store
from matrixcheck.diagnosis.inference.subjects import subject_of_matrix
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading

Found = TypeVar("Found")


class Kept(Generic[Found]):
    """Keep the last analysis of one layout: subjects, fits, and what was found for each group of matrices.

    A matrix whose readings changed is prepared anew, and its group searched again.
    """

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.fits = fit_store()
        self._count = 0
        self._subjects: dict[str, tuple[tuple[Reading, ...], Subject | None]] = {}
        self._found: dict[Hashable, tuple[Hashable, Found]] = {}

    def subjects(self, readings: Sequence[Reading], rates: Rates) -> tuple[Subject, ...]:
        """Return the matrices that were read, each with its evidence. Raises UsageError for one that is too large."""
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
        """Return what was found at that place under the same key, else call `find` and keep its result.

        A result after which `cut` says that the search was cut short is not kept: another search may go on.
        """
        known = self._found.get(place)
        if known is not None and known[0] == key:
            return known[1]
        found = find()
        if not cut():
            self._found[place] = key, found
        return found
