"""The usual checks before a machine of unknown history gets power (common practice, no source) and their outcomes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.record.job_state import SafetyCheckMade
from matrixcheck.report.words import moment

USUAL: tuple[tuple[str, str], ...] = (
    ("mains lead", "the lead, its plug and its strain relief are sound"),
    ("earth bond", "from the earth pin to every exposed metal part"),
    ("mains fuse", "of the rating on the label"),
    ("mains voltage", "the taps of the transformer fit the mains here"),
    ("other fuses", "in every holder the rating that the manual gives"),
    ("plugs", "each where the manual says, none a pin off"),
    ("loose parts", "no screw, solder or tool lies on a board"),
    ("batteries", "none leaks"),
)


class SafetyItem(NamedTuple):
    """One check: its name, what it is about, and how it came out last; None where it was never made."""

    item: str
    about: str
    made: SafetyCheckMade | None

    @property
    def name(self) -> str:
        """The check with its sign."""
        sign = "∙" if self.made is None else "✓" if self.made.passed else "✗"
        return f"{sign} {self.item}"

    @property
    def says(self) -> str:
        """How it came out, or what to look at."""
        if self.made is None:
            return f"not checked: {self.about}" if self.about else "not checked"
        came_out = "passed" if self.made.passed else "FAILED"
        return f"{came_out} {moment(self.made.at)}{': ' if self.made.note else ''}{self.made.note}"


def safety_items(made: Sequence[SafetyCheckMade], own: Sequence[str] = ()) -> tuple[SafetyItem, ...]:
    """The usual checks, those that the job has besides, and `own`, not made yet; each with its last outcome."""
    last = {one.item: one for one in made}
    about = dict(USUAL)
    return tuple(SafetyItem(item, about.get(item, ""), last.get(item)) for item in dict.fromkeys([*about, *last, *own]))
