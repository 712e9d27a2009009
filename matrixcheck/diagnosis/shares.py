"""How the probability of a suspect is spread over its members."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matrixcheck.diagnosis.result import Suspect

Shares = Mapping[str, Sequence[float]]
"""By a suspect's id: weights of its members against each other, in their order."""


def spread(suspect: Suspect, shares: Shares) -> list[float]:
    """Each member's part of the suspect, together 1; the same for each where no weights are given."""
    weights = shares.get(suspect.id, ())
    total = sum(weights)
    if not total:
        return [1 / len(suspect.members)] * len(suspect.members)
    return [weight / total for weight in weights]
