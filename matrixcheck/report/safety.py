"""The usual checks before a machine of unknown history gets power (common practice, no source), and how each came out
last."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.record.job_state import SafetyCheckMade

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


class SafetyOutcome(NamedTuple):
    """One check: its name, what it is about, and how it came out last; None where it was never made."""

    item: str
    about: str
    made: SafetyCheckMade | None


def safety_outcomes(made: Sequence[SafetyCheckMade], own: Sequence[str] = ()) -> tuple[SafetyOutcome, ...]:
    """Return the usual checks, those that the job has besides, and `own`, not made yet; each with its last outcome.

    A check is the same however it is spelt with capitals.
    """
    last = {_key(one.item): one for one in made}
    about = dict(USUAL)
    names = {_key(item): item for item in (*own, *(one.item for one in made), *about)}
    ordered = dict.fromkeys(map(_key, (*about, *(one.item for one in made), *own)))
    return tuple(SafetyOutcome(names[key], about.get(names[key], ""), last.get(key)) for key in ordered)


def _key(item: str) -> str:
    return item.strip().casefold()
