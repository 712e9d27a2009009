"""What of a diagnosis is worth telling a person: the likeliest set of suspects first, then what else it could be."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, Explanation, FaultClass, Suspect
from matrixcheck.diagnosis.wording import is_private

WORTH_SAYING = 0.01
NO_FAULT = "Lit by itself, no fault of a driver"
"""The heading of what glows in a sound machine too."""


class Ranking(NamedTuple):
    """`sets` are the explanations worth telling, best first. Of the best one's suspects, `private` are those that a
    cause within one cell would do for, `shared` all others; `others` stand only in the other explanations. `glow` is
    what lights by itself in a sound machine too: it belongs to no explanation."""

    sets: tuple[Explanation, ...]
    shared: tuple[Suspect, ...]
    private: tuple[Suspect, ...]
    others: tuple[Suspect, ...]
    glow: tuple[Suspect, ...]


def ranked(diagnosis: Diagnosis) -> Ranking:
    """The explanations that reach `WORTH_SAYING`, the best one in any case."""
    sets = diagnosis.explanations[:1] + tuple(
        one for one in diagnosis.explanations[1:] if one.probability >= WORTH_SAYING
    )
    first = dict.fromkeys(name for one in sets[:1] for name in one.suspects)
    others = dict.fromkeys(name for one in sets[1:] for name in one.suspects if name not in first)
    explaining = {name for one in diagnosis.explanations for name in one.suspects}
    best = [diagnosis.suspect(name) for name in first]
    return Ranking(
        sets,
        tuple(one for one in best if not _within_a_cell(one)),
        tuple(one for one in best if _within_a_cell(one)),
        tuple(map(diagnosis.suspect, others)),
        tuple(one for one in diagnosis.suspects if one.id not in explaining and _is_glow(one)),
    )


def _within_a_cell(suspect: Suspect) -> bool:
    return any(is_private((fault,)) for fault in suspect.members)


def _is_glow(suspect: Suspect) -> bool:
    return any(fault.fault is FaultClass.KEEP_WARM_GLOW for fault in suspect.members)
