"""Rank what of a diagnosis people need: the likeliest set of suspects first, then what else is worth saying."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.diagnosis.machine.fault_classes import OF_CELLS
from matrixcheck.diagnosis.result import Diagnosis, Explanation, FaultClass, Suspect
from matrixcheck.report.answer.folding import chance_in, folded

WORTH_SAYING = 0.01
"""Probability from which on an explanation is shown: below one per cent nobody acts on it."""


class Ranking(NamedTuple):
    """Hold a ranked diagnosis.

    `diagnosis` has nearly equal suspects folded into one. `sets` are its explanations worth saying, best first. Of the
    best one's suspects, `private` are those that a cause within one cell would do for, `shared` all others. `glow` is
    what lights by itself in a good machine too: it belongs to no explanation.
    """

    diagnosis: Diagnosis
    sets: tuple[Explanation, ...]
    shared: tuple[Suspect, ...]
    private: tuple[Suspect, ...]
    glow: tuple[Suspect, ...]


def ranked(diagnosis: Diagnosis) -> Ranking:
    """Return the explanations that reach `WORTH_SAYING`, the best one in any case."""
    merged = folded(diagnosis)
    explanations = merged.explanations
    sets = explanations[:1] + tuple(one for one in explanations[1:] if one.probability >= WORTH_SAYING)
    first = dict.fromkeys(name for one in sets[:1] for name in one.suspects)
    explaining = {name for one in explanations for name in one.suspects}
    best = [_at_least(merged.suspect(name), chance_in(explanations, name)) for name in first]
    return Ranking(
        merged,
        sets,
        tuple(one for one in best if not _within_a_cell(one)),
        tuple(one for one in best if _within_a_cell(one)),
        tuple(one for one in merged.suspects if one.id not in explaining and _is_glow(one)),
    )


def _at_least(suspect: Suspect, probability: float) -> Suspect:
    """Return a suspect as likely as an explanation that holds it, also where others were merged into it."""
    known = suspect.probability >= probability
    return suspect if known else suspect.model_copy(update={"probability": probability})


def _within_a_cell(suspect: Suspect) -> bool:
    return any(fault.fault in OF_CELLS for fault in suspect.members)


def _is_glow(suspect: Suspect) -> bool:
    return any(fault.fault is FaultClass.KEEP_WARM_GLOW for fault in suspect.members)
