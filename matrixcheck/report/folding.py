"""A diagnosis as a person is told it: what is nearly the same suspect stands there once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, Explanation, Suspect

A_FEW = 2
"""So many faults may tell two suspects apart that are told as one."""


def folded(diagnosis: Diagnosis) -> Diagnosis:
    """The diagnosis with every suspect of another explanation that is nearly one of the best explanation's told by
    that one. Explanations that are the same then are one, with their probabilities added; the bench checks go along."""
    best = diagnosis.explanations[0].suspects if diagnosis.explanations else ()
    standing = dict.fromkeys(name for one in diagnosis.explanations for name in one.suspects)
    suspects = {suspect.id: suspect for suspect in diagnosis.suspects}
    first = [suspects[name] for name in best]
    told_by = {
        name: same.id for name in standing if name not in best and (same := _nearly(suspects[name], first)) is not None
    }
    if not told_by:
        return diagnosis
    explanations = _merged(diagnosis.explanations, told_by)
    return diagnosis.model_copy(
        update={
            "explanations": explanations,
            "suspects": tuple(
                _with_all(suspect, [suspects[name] for name, by in told_by.items() if by == suspect.id])
                for suspect in diagnosis.suspects
                if suspect.id not in told_by
            ),
            "checks": _relabelled(diagnosis.checks, told_by),
        }
    )


def chance_in(explanations: Iterable[Explanation], name: str) -> float:
    """The probability of the explanations in which a suspect stands."""
    return min(sum(one.probability for one in explanations if name in one.suspects), 1.0)


def _nearly(suspect: Suspect, others: Collection[Suspect]) -> Suspect | None:
    """The first of the others that has all of the suspect's faults, else all but a few of them."""
    members = set(suspect.members)
    whole = next((other for other in others if members <= set(other.members)), None)
    return whole or next((other for other in others if _alike(members, set(other.members))), None)


def _alike(one: Collection[object], other: Collection[object]) -> bool:
    apart = set(one).symmetric_difference(other)
    return len(apart) <= A_FEW and len(apart) < len(set(one).intersection(other))


def _merged(explanations: Iterable[Explanation], told_by: Mapping[str, str]) -> tuple[Explanation, ...]:
    found: dict[frozenset[str], Explanation] = {}
    for one in explanations:
        names = tuple(dict.fromkeys(told_by.get(name, name) for name in one.suspects))
        before = found.get(frozenset(names))
        total = one.probability + (before.probability if before else 0.0)
        found[frozenset(names)] = Explanation(
            probability=min(total, 1.0), suspects=before.suspects if before else names
        )
    return tuple(sorted(found.values(), key=lambda one: -one.probability))


def _with_all(suspect: Suspect, within: Collection[Suspect]) -> Suspect:
    members = dict.fromkeys([*suspect.members, *(fault for other in within for fault in other.members)])
    return suspect.model_copy(update={"members": tuple(members)}) if within else suspect


def _relabelled(checks: Iterable[BenchCheck], told_by: Mapping[str, str]) -> tuple[BenchCheck, ...]:
    """The checks under the suspects that are told; what was proposed for two that are one now stands once."""
    found: dict[tuple[object, ...], BenchCheck] = {}
    for check in checks:
        name = told_by.get(check.suspect, check.suspect)
        found.setdefault((name, check.do, check.points), check.model_copy(update={"suspect": name}))
    return tuple(found.values())
