"""Bound searches by work, not by seconds: the same readings give the same answer under any load."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from matrixcheck.diagnosis.inference.likelihood import Subject

PER_EVALUATION = 10_000
"""Fixed cost of one evaluation of the forward model, in units: below some 10,000 places it takes as long whatever their
number (measured)."""
PER_SET = 3_000
"""Fixed cost of scoring a set of faults, in units: to sum its fits and keep it."""


def never() -> bool:
    """Return False: no limit in seconds."""
    return False


@dataclass
class Work:
    """Count the work of one step of the analysis against its bound.

    The unit is one place of one matrix that the forward model works out, some 20 to 35 ns on a machine of 2024.
    `stop` says whether a limit in seconds, which somebody asked for, has passed; without one, nothing here depends on
    the clock. `cut` is set once it has.
    """

    limit: float
    stop: Callable[[], bool] = never
    spent: float = 0.0
    cut: bool = False
    parts: list[Work] = field(default_factory=list)

    def spend(self, units: float) -> None:
        """Add work that is done, in units."""
        self.spent += units

    def part(self, share: float) -> Work:
        """Give a bound of its own to a part of the work: this share of what is left."""
        self.parts.append(Work((self.limit - self.spent) * share, self.stop))
        return self.parts[-1]

    @property
    def over(self) -> bool:
        """Return whether the work is used up, or the limit in seconds has passed."""
        if not self.cut and self.stop():
            self.cut = True
        return self.cut or self.spent >= self.limit

    @property
    def short(self) -> bool:
        """Return whether the work or any part of it is used up: with more, another answer may be found."""
        return self.over or any(part.short for part in self.parts)


def evaluation(subject: Subject) -> float:
    """Return the cost of one evaluation of the forward model in a matrix, in units of work."""
    return PER_EVALUATION + subject.evidence.seen.size
