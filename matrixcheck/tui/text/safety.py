"""The checks before power as the screens show them: each with its sign and how it came out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.record.job_state import SafetyCheckMade
from matrixcheck.report.safety import safety_outcomes
from matrixcheck.report.words import moment


class SafetyItem(NamedTuple):
    """One check: its name, what it is about, and how it came out last; None where it was never made."""

    item: str
    about: str
    made: SafetyCheckMade | None

    @property
    def name(self) -> str:
        """Return the check with its sign."""
        sign = "∙" if self.made is None else "✗" if self.made.failed else "✓"
        return f"{sign} {self.item}"

    @property
    def says(self) -> str:
        """Return how it came out, or what to look at."""
        if self.made is None:
            return f"not checked: {self.about}" if self.about else "not checked"
        came_out = "FAILED" if self.made.failed else "passed" if self.made.passed else "waived"
        return f"{came_out} {moment(self.made.at)}{': ' if self.made.note else ''}{self.made.note}"


def safety_items(made: Sequence[SafetyCheckMade], own: Sequence[str] = ()) -> tuple[SafetyItem, ...]:
    """Return the usual checks, those that the job has besides, and `own`, not made yet; each with its last outcome."""
    return tuple(SafetyItem(*one) for one in safety_outcomes(made, own))
