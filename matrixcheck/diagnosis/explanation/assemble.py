"""Assemble the regions' explanations into those of the whole machine, in the result's shapes."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from matrixcheck.diagnosis.explanation.combine import DIGITS, Region, combined
from matrixcheck.diagnosis.explanation.completed_sets import Group
from matrixcheck.diagnosis.explanation.explanations import Marginals, RegionExplanation, account
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Fittings, Shares, spread
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
    marginals = {id(each): Marginals(each.solution.problem, each.solution.posterior) for each in regions}
    for probability, picks in combined(regions):
        fresh: dict[tuple[Candidate, ...], Suspect] = {}
        named: list[Suspect] = []
        for region, picked in picks:
            for group in picked.groups:
                suspect = known.get(group.members) or fresh.get(group.members)
                if suspect is None:
                    name = f"s{len(known) + len(fresh) + 1}"
                    suspect = _suspect(region, picked, group, name, marginals[id(region)].of(group) * searched)
                    suspect = suspect.model_copy(update={"says": says(suspect)})
                    fresh[group.members] = suspect
                    fitted[name] = group.fittings
                named.append(suspect)
        if explanations and any(each.contradicts and not each.explains for each in named):
            continue  # one of its faults explains nothing: a likelier explanation says the same without it
        known |= fresh
        explanations.append(
            Explanation(probability=_given(probability * searched), suspects=tuple(each.id for each in named))
        )
    fitted = {suspect.id: fitted[suspect.id] for suspect in known.values()}
    shares = {suspect.id: _shares(members, suspect) for members, suspect in known.items()}
    return tuple(explanations), tuple(known.values()), shares, fitted


def with_shares(suspects: Sequence[Suspect], shares: Shares) -> tuple[Suspect, ...]:
    """Return the suspects with the part of each member."""
    return tuple(
        suspect.model_copy(update={"shares": tuple(round(part, DIGITS) for part in spread(suspect, shares))})
        for suspect in suspects
    )


def _given(probability: float) -> float:
    return round(min(probability, 1.0), DIGITS)


def _suspect(region: Region, explanation: RegionExplanation, group: Group, name: str, chance: float) -> Suspect:
    found = account(region.solution.problem, explanation.completed, group)
    return Suspect(
        id=name,
        probability=_given(chance),
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
