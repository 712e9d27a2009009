"""What of a diagnosis is worth telling a person: the likeliest set of suspects first, then what else it could be."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, Explanation, Suspect
from matrixcheck.diagnosis.wording import is_private

WORTH_SAYING = 0.01


class Ranking(NamedTuple):
    """`sets` are the explanations worth telling, best first. Of the best one's suspects, `private` are those that a
    cause within one cell would do for, `shared` all others; `others` stand only in the other explanations."""

    sets: tuple[Explanation, ...]
    shared: tuple[Suspect, ...]
    private: tuple[Suspect, ...]
    others: tuple[Suspect, ...]


def ranked(diagnosis: Diagnosis) -> Ranking:
    """The explanations that reach `WORTH_SAYING`, the best one in any case."""
    sets = diagnosis.explanations[:1] + tuple(
        one for one in diagnosis.explanations[1:] if one.probability >= WORTH_SAYING
    )
    first = dict.fromkeys(name for one in sets[:1] for name in one.suspects)
    others = dict.fromkeys(name for one in sets[1:] for name in one.suspects if name not in first)
    best = [diagnosis.suspect(name) for name in first]
    return Ranking(
        sets,
        tuple(one for one in best if not _within_a_cell(one)),
        tuple(one for one in best if _within_a_cell(one)),
        tuple(map(diagnosis.suspect, others)),
    )


def _within_a_cell(suspect: Suspect) -> bool:
    return any(is_private((fault,)) for fault in suspect.members)
