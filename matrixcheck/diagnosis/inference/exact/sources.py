"""A layout's shared faults as marks alone see them: stretches of lines that are flagged, with the chance of each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.forward.fault_effects import Fitting, Fuse, Setting
from matrixcheck.diagnosis.inference.exact.cell_states import Flag
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.matrix_frame import Floats
from matrixcheck.diagnosis.result import FaultClass

Piece = tuple[int, int, int]
"""A stretch of a line that is flagged: the line, the flags, and the count of cells before it."""


_FUSED = Flag.PARTED_DRIVEN | Flag.PARTED_SENSED
_CROSSED = Flag.CROSSED_DRIVEN | Flag.CROSSED_SENSED


class Source(NamedTuple):
    """Faults that flag the same pieces of lines, with the chance of each; their cells are left out.

    `spared`: matrices on the fuse of a grounded line that were read before it went.
    """

    pieces: tuple[Piece, ...]
    members: tuple[Candidate, ...]
    spared: frozenset[str] = frozenset()

    @property
    def crosses(self) -> bool:
        """Say whether it leads lines to other wires, as a crossing does: of these, a line has one at most."""
        return any(flags & _CROSSED for _, flags, _ in self.pieces)

    def fitting(self, member: Candidate) -> Fitting:
        """Say how a member does what the pieces say: a grounded line that parts others has taken its fuse."""
        takes_it = member.fault_class is FaultClass.GROUNDED and any(flags & _FUSED for _, flags, _ in self.pieces)
        if not takes_it:
            return Fitting()
        return Fitting(Setting(Fuse.GOES if self.spared else Fuse.GONE, spared=self.spared))


class Unknown(NamedTuple):
    """A line whose chain isn't known: a break may part any of its cells from the rest."""

    line: int
    flag: int
    rate: float


def chances_of(sources: Sequence[Source]) -> Floats:
    """Give for each source the chance that any of its members is there: [source]."""
    return np.array([min(sum(member.rate for member in source.members), 1.0) for source in sources])


def log_odds_of(chances: Floats) -> Floats:
    """Give log(p / (1 - p)) of each chance, kept off 0 and 1, in the same shape."""
    kept = np.minimum(np.maximum(chances, 1e-12), 1 - 1e-6)
    found: Floats = np.log(kept) - np.log1p(-kept)
    return found
