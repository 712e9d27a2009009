"""Prepare the matrices that were read: each with its evidence and what a healthy one would show."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matrixcheck.diagnosis.evidence.observations import observe
from matrixcheck.diagnosis.inference.likelihood import Subject, subject_of
from matrixcheck.diagnosis.machine.candidates import fuse_mates
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading


def subjects_of(layout: Layout, readings: Sequence[Reading], rates: Rates) -> tuple[Subject, ...]:
    """Return the matrices that were read, each with its evidence.

    Raises UsageError for a layout with a matrix of more than `LARGEST_SIDE` rows or columns.
    """
    earlier = read_earlier(layout, readings)
    subjects = (subject_of_matrix(Frame(matrix), readings, rates, earlier[matrix.id]) for matrix in layout.matrices)
    return tuple(subject for subject in subjects if subject is not None)


def read_earlier(layout: Layout, readings: Sequence[Reading]) -> Mapping[str, frozenset[str]]:
    """Return for each matrix those on a fuse of its own of which the first reading was made before its own first one.

    A fuse that a grounded line took while this one was read had not gone yet.
    """
    place = {name: at for at, name in enumerate(dict.fromkeys(reading.matrix for reading in readings))}
    last = len(place)
    return {
        name: frozenset(mate for mate in mates if place.get(mate, last) < place.get(name, last))
        for name, mates in layout.once(fuse_mates).items()
    }


def subject_of_matrix(
    frame: Frame, readings: Sequence[Reading], rates: Rates, earlier: frozenset[str]
) -> Subject | None:
    """Return a matrix with its evidence, None where nothing was read of it. `earlier`: see `read_earlier`.

    Raises UsageError for a matrix of more than `LARGEST_SIDE` rows or columns.
    """
    matrix = frame.matrix
    if max(matrix.size) > LARGEST_SIDE:
        rows, columns = matrix.size
        raise UsageError(
            f"{matrix.id} is {rows} by {columns}: up to {LARGEST_SIDE} rows and columns are analysed",
            "split it into smaller matrices",
        )
    evidence = observe(frame, readings, rates.reading)
    return subject_of(frame, evidence)._replace(earlier=earlier) if evidence.readings else None
