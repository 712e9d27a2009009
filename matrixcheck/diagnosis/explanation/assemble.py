"""Assemble the regions' explanations into those of the whole machine, in the result's shapes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matrixcheck.diagnosis.explanation.ambiguity_groups import Group
from matrixcheck.diagnosis.explanation.combine import DIGITS, Region, combined
from matrixcheck.diagnosis.explanation.explanations import RegionExplanation, account, marginal
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Fittings, Shares
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.result import Explanation, Suspect

Says = Callable[[Suspect], str]


def assemble(
    regions: Sequence[Region], says: Says, searched: float = 1.0
) -> tuple[tuple[Explanation, ...], tuple[Suspect, ...], Shares, Fitted]:
    """Return explanations, best first, their suspects, the members' shares of a suspect, and how these were fitted.

    `says` words a suspect. `searched`: the share of all sets that was searched, by which every probability is lowered.
    """
    known: dict[tuple[Candidate, ...], Suspect] = {}
    fitted: dict[str, Fittings] = {}
    explanations: list[Explanation] = []
    for probability, picks in combined(regions):
        names: list[str] = []
        for region, picked in picks:
            for group in picked.groups:
                if group.members not in known:
                    suspect = _suspect(region, picked, group, f"s{len(known) + 1}", searched)
                    known[group.members] = suspect.model_copy(update={"says": says(suspect)})
                    fitted[suspect.id] = group.fittings
                names.append(known[group.members].id)
        explanations.append(Explanation(probability=_given(probability * searched), suspects=tuple(names)))
    shares = {suspect.id: _shares(members, suspect) for members, suspect in known.items()}
    return tuple(explanations), tuple(known.values()), shares, fitted


def _given(probability: float) -> float:
    return round(min(probability, 1.0), DIGITS)


def _suspect(region: Region, explanation: RegionExplanation, group: Group, name: str, searched: float) -> Suspect:
    problem, posterior = region.solution.problem, region.solution.posterior
    found = account(problem, explanation.completed, group)
    return Suspect(
        id=name,
        probability=_given(marginal(problem, posterior, group) * searched),
        members=tuple(candidate.fault for candidate in group.members),
        explains=found.explains,
        contradicts=found.contradicts,
        untested=found.untested,
        says="",
    )


def _shares(members: Sequence[Candidate], suspect: Suspect) -> tuple[float, ...]:
    """Spread the suspect's probability over its members by their rates."""
    total = sum(member.rate for member in members) or 1.0
    return tuple(suspect.probability * member.rate / total for member in members)
