"""Fold a diagnosis for people: suspects that are nearly the same stand there once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, Explanation, Fault, Suspect

MOST_DIFFERING = 2
"""Faults by which two suspects may differ that stand as one: a person would check the same things."""


def folded(diagnosis: Diagnosis) -> Diagnosis:
    """Return the diagnosis with suspects of other explanations merged into nearly equal ones of the best.

    Explanations that are the same then are one, with their probabilities added; the bench checks go along.
    """
    best = diagnosis.explanations[0].suspects if diagnosis.explanations else ()
    standing = dict.fromkeys(name for one in diagnosis.explanations for name in one.suspects)
    suspects = {suspect.id: suspect for suspect in diagnosis.suspects}
    first = [suspects[name] for name in best]
    merged_into = {
        name: same.id for name in standing if name not in best and (same := _nearly(suspects[name], first)) is not None
    }
    if not merged_into:
        return diagnosis
    explanations = _merged(diagnosis.explanations, merged_into)
    return diagnosis.model_copy(
        update={
            "explanations": explanations,
            "suspects": tuple(
                _with_all(
                    suspect,
                    [suspects[name] for name, by in merged_into.items() if by == suspect.id],
                    diagnosis.explanations,
                )
                for suspect in diagnosis.suspects
                if suspect.id not in merged_into
            ),
            "checks": _relabelled(diagnosis.checks, merged_into),
        }
    )


def chance_in(explanations: Iterable[Explanation], name: str) -> float:
    """Return the probability of the explanations in which a suspect stands."""
    return min(sum(one.probability for one in explanations if name in one.suspects), 1.0)


def _nearly(suspect: Suspect, others: Collection[Suspect]) -> Suspect | None:
    """Return the first of the others that has all of the suspect's faults, else all but a few of them."""
    members = set(suspect.members)
    whole = next((other for other in others if members <= set(other.members)), None)
    return whole or next((other for other in others if _alike(members, set(other.members))), None)


def _alike(one: Collection[object], other: Collection[object]) -> bool:
    differing = set(one).symmetric_difference(other)
    return len(differing) <= MOST_DIFFERING and len(differing) < len(set(one).intersection(other))


def _merged(explanations: Iterable[Explanation], merged_into: Mapping[str, str]) -> tuple[Explanation, ...]:
    found: dict[frozenset[str], Explanation] = {}
    for one in explanations:
        names = tuple(dict.fromkeys(merged_into.get(name, name) for name in one.suspects))
        before = found.get(frozenset(names))
        total = one.probability + (before.probability if before else 0.0)
        found[frozenset(names)] = Explanation(
            probability=min(total, 1.0), suspects=before.suspects if before else names
        )
    return tuple(sorted(found.values(), key=lambda one: -one.probability))


def _with_all(suspect: Suspect, within: Collection[Suspect], explanations: Iterable[Explanation]) -> Suspect:
    """Return the suspect with the members of those merged into it, each weighed by its explanations."""
    if not within:
        return suspect
    weights: dict[Fault, float] = {}
    for one in (suspect, *within):
        chance = chance_in(explanations, one.id)
        for fault, part in shared_out(one):
            weights[fault] = weights.get(fault, 0.0) + chance * part
    total = sum(weights.values()) or 1.0
    shares = tuple(weight / total for weight in weights.values())
    return suspect.model_copy(update={"members": tuple(weights), "shares": shares})


def shared_out(suspect: Suspect) -> tuple[tuple[Fault, float], ...]:
    """Return each member with its part of the suspect."""
    parts = suspect.shares or (1 / len(suspect.members),) * len(suspect.members)
    return tuple(zip(suspect.members, parts, strict=True))


def _relabelled(checks: Iterable[BenchCheck], merged_into: Mapping[str, str]) -> tuple[BenchCheck, ...]:
    """Return the checks under the merged suspects; what was proposed for two that are one now stands once."""
    found = []
    for check in checks:
        names = tuple(dict.fromkeys(merged_into.get(name, name) for name in check.suspects))
        found.append(check.model_copy(update={"suspect": names[0] if names else "", "suspects": names}))
    return tuple(found)
