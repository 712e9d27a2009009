"""Spread the probability of a suspect over its members, and keep how each was fitted to the readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matrixcheck.diagnosis.forward.fault_effects import Fitting
from matrixcheck.diagnosis.result import Suspect

Shares = Mapping[str, Sequence[float]]
"""By a suspect's id: weights of its members against each other, in their order."""

Fittings = tuple[tuple[Fitting, ...], ...]
"""The ways in which each member of a suspect was fitted, in their order."""
Fitted = Mapping[str, Fittings]
"""By a suspect's id: the fittings of its members. What is missing was fitted in the usual setting."""
USUAL_ONLY = (Fitting(),)


def spread(suspect: Suspect, shares: Shares) -> list[float]:
    """Return each member's part of the suspect, with sum 1; equal parts where no weights are given."""
    weights = shares.get(suspect.id, ())
    total = sum(weights)
    if not total:
        return [1 / len(suspect.members)] * len(suspect.members)
    return [weight / total for weight in weights]
