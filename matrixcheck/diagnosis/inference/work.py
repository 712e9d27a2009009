"""What a search may do, counted in work and not in seconds: the same readings give the same answer under any load."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from matrixcheck.diagnosis.inference.likelihood import Subject

PER_EVALUATION = 10_000
"""What one evaluation of the forward model costs besides its places: below some 10,000 places it takes as long
whatever their number (measured)."""
PER_SET = 3_000
"""What a set of faults costs besides, to lay out and to weigh."""


def never() -> bool:
    """No limit in seconds."""
    return False


@dataclass
class Work:
    """A bound on the work of one step of the analysis, and what was spent of it.

    The unit is one place of one matrix that the forward model works out, some 20 to 35 ns on a machine of 2024.
    `stop` says whether a limit in seconds, which somebody asked for, has passed; without one, nothing here depends on
    the clock. `cut` is set once it has.
    """

    limit: float
    stop: Callable[[], bool] = never
    spent: float = 0.0
    cut: bool = False

    def spend(self, units: float) -> None:
        """Count work that is done."""
        self.spent += units

    @property
    def over(self) -> bool:
        """Whether the work is used up, or the limit in seconds has passed."""
        if not self.cut and self.stop():
            self.cut = True
        return self.cut or self.spent >= self.limit


def evaluation(subject: Subject) -> float:
    """What it costs to work out what a set of faults shows in a matrix, in units of work."""
    return PER_EVALUATION + subject.evidence.seen.size
