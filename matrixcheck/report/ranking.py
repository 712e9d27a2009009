"""What of a diagnosis is worth telling a person: the likeliest set of suspects first, then what else it could be."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, Explanation, Suspect

WORTH_SAYING = 0.01


class Ranking(NamedTuple):
    """`sets` are the explanations worth telling, best first. `first` are the suspects of the best one, `others` those
    that only stand in the rest; `left_out` counts the explanations that are too improbable to tell."""

    sets: tuple[Explanation, ...]
    first: tuple[Suspect, ...]
    others: tuple[Suspect, ...]
    left_out: int


def ranked(diagnosis: Diagnosis) -> Ranking:
    """The explanations that reach `WORTH_SAYING`, the best one in any case."""
    sets = diagnosis.explanations[:1] + tuple(
        one for one in diagnosis.explanations[1:] if one.probability >= WORTH_SAYING
    )
    first = dict.fromkeys(name for one in sets[:1] for name in one.suspects)
    others = dict.fromkeys(name for one in sets[1:] for name in one.suspects if name not in first)
    return Ranking(
        sets,
        tuple(map(diagnosis.suspect, first)),
        tuple(map(diagnosis.suspect, others)),
        len(diagnosis.explanations) - len(sets),
    )
