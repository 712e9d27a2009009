"""Rank what of a diagnosis people need: the likeliest set of suspects first, then what is also possible."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.result import Diagnosis, Explanation, FaultClass, Suspect
from matrixcheck.diagnosis.words.sentences import is_private
from matrixcheck.report.folding import chance_in, folded

WORTH_SAYING = 0.01
"""Probability from which on an explanation is shown: below one per cent nobody acts on it."""
NO_FAULT = "Lit by itself, no fault of a driver"
"""The heading of what glows in a sound machine too."""


class Ranking(NamedTuple):
    """Hold a ranked diagnosis.

    `diagnosis` has nearly equal suspects folded into one. `sets` are its explanations worth saying, best first. Of the
    best one's suspects, `private` are those that a cause within one cell would do for, `shared` all others. `others`
    stand only in the other explanations, likeliest first; the probability of each is that of the explanations in which
    it stands, and no more than the best one leaves over. `glow` is what lights by itself in a good machine too: it
    belongs to no explanation.
    """

    diagnosis: Diagnosis
    sets: tuple[Explanation, ...]
    shared: tuple[Suspect, ...]
    private: tuple[Suspect, ...]
    others: tuple[Suspect, ...]
    glow: tuple[Suspect, ...]


def ranked(diagnosis: Diagnosis) -> Ranking:
    """Return the explanations that reach `WORTH_SAYING`, the best one in any case."""
    merged = folded(diagnosis)
    explanations = merged.explanations
    sets = explanations[:1] + tuple(one for one in explanations[1:] if one.probability >= WORTH_SAYING)
    first = dict.fromkeys(name for one in sets[:1] for name in one.suspects)
    others = dict.fromkeys(name for one in sets[1:] for name in one.suspects if name not in first)
    explaining = {name for one in explanations for name in one.suspects}
    best = [_at_least(merged.suspect(name), chance_in(explanations, name)) for name in first]
    left = max(1.0 - explanations[0].probability, 0.0) if explanations else 0.0
    beside = [_with(merged.suspect(name), min(chance_in(explanations, name), left)) for name in others]
    return Ranking(
        merged,
        sets,
        tuple(one for one in best if not _within_a_cell(one)),
        tuple(one for one in best if _within_a_cell(one)),
        tuple(sorted(beside, key=lambda one: -one.probability)),
        tuple(one for one in merged.suspects if one.id not in explaining and _is_glow(one)),
    )


def _with(suspect: Suspect, probability: float) -> Suspect:
    return suspect.model_copy(update={"probability": probability})


def _at_least(suspect: Suspect, probability: float) -> Suspect:
    """Return a suspect as likely as an explanation that holds it, also where others were merged into it."""
    return suspect if suspect.probability >= probability else _with(suspect, probability)


def _within_a_cell(suspect: Suspect) -> bool:
    return any(is_private((fault,)) for fault in suspect.members)


def _is_glow(suspect: Suspect) -> bool:
    return any(fault.fault is FaultClass.KEEP_WARM_GLOW for fault in suspect.members)
