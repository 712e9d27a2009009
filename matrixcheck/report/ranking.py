"""What of a diagnosis is worth telling a person: the likeliest set of suspects first, then what else it could be."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, Explanation, Suspect
from matrixcheck.diagnosis.wording import is_private

WORTH_SAYING = 0.01


class Ranking(NamedTuple):
    """`sets` are the explanations worth telling, best first. Of the best one's suspects, `shared` are those that
    several cells may share, `private` those within a single cell; `others` stand only in the rest."""

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
        tuple(one for one in best if not is_private(one.members)),
        tuple(one for one in best if is_private(one.members)),
        tuple(map(diagnosis.suspect, others)),
    )
