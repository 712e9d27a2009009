"""The diagnosis of one machine: readings and findings in, ranked explanations and what to do next out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from math import isnan, nan
from time import perf_counter
from typing import NamedTuple

from matrixcheck.diagnosis.advice.advise import advise
from matrixcheck.diagnosis.explanation.ambiguity_groups import Group
from matrixcheck.diagnosis.explanation.cell_states import cell_states, private_chances
from matrixcheck.diagnosis.explanation.combine import Region, Told, together
from matrixcheck.diagnosis.explanation.explanations import Story, account, marginal, posterior_of, stories_of
from matrixcheck.diagnosis.explanation.marks_alone import solve
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Fittings, Shares
from matrixcheck.diagnosis.explanation.unrivalled import with_plain_causes, without_sound_coils
from matrixcheck.diagnosis.inference.beam.search import Clock, search
from matrixcheck.diagnosis.inference.exact.solve import is_marks_alone
from matrixcheck.diagnosis.inference.problem import Problem, problem_of, subjects_of
from matrixcheck.diagnosis.inference.regions import apart
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.prior_updates import heed
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import Diagnosis, Explanation, Searched, Suspect
from matrixcheck.diagnosis.words.sentences import suspect_sentence
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading

WEIGH_SHARE, SEARCH_SHARE, EXPLAIN_SHARE, OVERDUE_SHARE = 0.4, 0.62, 0.8, 0.88
"""Shares of the time allowed after which the weighing of single faults, the search, and the sorting of its explanations
come to an end, of the likeliest one too."""
MARKS_SHARE = 0.4
"""The same for the search of marks alone, after which all that it found is told."""


def diagnose(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding] = (),
    cap_seconds: float = 1.0,
    clock: Clock = perf_counter,
) -> Diagnosis:
    """The most probable causes of what was read.

    `readings` are those that still hold, in the order they were made; `findings` what bench checks and repairs said.
    The search stops after `cap_seconds` at the latest and says so in the result. Raises UsageError for readings of
    matrices that the layout lacks.
    """
    started = clock()
    rates = shipped_rates()
    for reading in readings:
        layout.matrix(reading.matrix)
    subjects = subjects_of(layout, readings, rates)
    if is_marks_alone(subjects):
        solved = solve(layout, readings, findings, rates, partial(_past, clock, started + MARKS_SHARE * cap_seconds))
        found = _Found(*solved.answer, solved.private, solved.exact, None if solved.exact else solved.missing)
    else:
        pool = heed(layout, candidates(layout, rates), findings)
        problem = problem_of(subjects, pool, rates, lambda: clock() > started + WEIGH_SHARE * cap_seconds)
        found = _found(layout, readings, problem, _search(apart(problem), started, cap_seconds, clock))
    left, shares, fitted = without_sound_coils(layout, readings, found.suspects, found.shares, found.fitted)
    explanations, suspects = with_plain_causes(layout, readings, found.explanations, left)
    tests, checks = advise(layout, readings, explanations, suspects, shares, fitted=fitted)
    return Diagnosis(
        explanations=explanations,
        suspects=suspects,
        cells=cell_states(layout, readings, found.private),
        next=tests,
        checks=checks,
        searched=Searched(exact=found.exact, seconds=round(clock() - started, 4), gap=found.gap),
    )


class _Found(NamedTuple):
    """What a search came to. `shares`: how a suspect's probability spreads over its members, by its id; `fitted`: how
    each of these was fitted. `private`: the chance of a cause of its own, by cell. `gap`: the probability of what was
    not searched, where it isn't exact."""

    explanations: tuple[Explanation, ...]
    suspects: tuple[Suspect, ...]
    shares: Shares
    fitted: Fitted
    private: Mapping[CellKey, float]
    exact: bool
    gap: float | None = None


def _found(
    layout: Layout,
    readings: Sequence[Reading],
    problem: Problem,
    searched: tuple[tuple[Region, ...], bool, float | None],
) -> _Found:
    regions, proven, gap = searched
    explanations, suspects, fitted = _assemble(layout, readings, together(regions))
    stories = [story for region in regions for story in region.stories]
    shares = {suspect.id: _shares(stories, suspect) for suspect in suspects}
    private: dict[CellKey, float] = {}
    for region in regions:
        private |= private_chances(region.problem, region.posterior)
    if proven and problem.whole:
        return _Found(explanations, suspects, shares, fitted, private, exact=True)
    return _Found(explanations, suspects, shares, fitted, private, exact=False, gap=gap if problem.whole else None)


def _search(
    problems: Sequence[Problem], started: float, cap_seconds: float, clock: Clock
) -> tuple[tuple[Region, ...], bool, float | None]:
    """Every region with what the search found there; whether the best of each is proven to be the best; and the
    probability of what was left aside. Each has its share of the time that is left: what one doesn't need is the
    others'."""
    regions: list[Region] = []
    proven, kept = True, 1.0
    for left, problem in zip(range(len(problems), 0, -1), problems, strict=True):
        begun = clock()
        enough = begun + max(started + SEARCH_SHARE * cap_seconds - begun, 0.0) / left
        explored = search(problem, enough, clock)
        proven = proven and explored.proven
        gap = explored.gap
        kept = kept * (1 - gap) if gap is not None else nan
        posterior = posterior_of(explored)
        regions.append(Region(problem, posterior, ()))
    overdue = partial(_past, clock, started + OVERDUE_SHARE * cap_seconds)
    for place, region in enumerate(regions):
        begun = clock()
        enough = begun + max(started + EXPLAIN_SHARE * cap_seconds - begun, 0.0) / (len(regions) - place)
        stories = stories_of(region.problem, region.posterior, partial(_past, clock, enough), overdue)
        regions[place] = region._replace(stories=stories)
    return tuple(regions), proven, None if isnan(kept) else 1 - kept


def _past(clock: Clock, moment: float) -> bool:
    return clock() > moment


def _assemble(
    layout: Layout, readings: Sequence[Reading], told: Sequence[Told]
) -> tuple[tuple[Explanation, ...], tuple[Suspect, ...], Fitted]:
    known: dict[tuple[Candidate, ...], Suspect] = {}
    fitted: dict[str, Fittings] = {}
    explanations: list[Explanation] = []
    for probability, picks in told:
        names: list[str] = []
        for region, story in picks:
            for group in story.groups:
                if group.members not in known:
                    suspect = _suspect(region, story, group, f"s{len(known) + 1}")
                    known[group.members] = suspect.model_copy(update={"says": _says(layout, readings, suspect)})
                    fitted[suspect.id] = group.fittings
                names.append(known[group.members].id)
        explanations.append(Explanation(probability=min(probability, 1.0), suspects=tuple(names)))
    return tuple(explanations), tuple(known.values()), fitted


def _suspect(region: Region, story: Story, group: Group, name: str) -> Suspect:
    found = account(region.problem, story.completed, group)
    return Suspect(
        id=name,
        probability=marginal(region.problem, region.posterior, group),
        members=tuple(candidate.fault for candidate in group.members),
        explains=found.explains,
        contradicts=found.contradicts,
        untested=found.untested,
        says="",
    )


def _says(layout: Layout, readings: Sequence[Reading], suspect: Suspect) -> str:
    return suspect_sentence(
        layout, suspect.members, suspect.explains, suspect.contradicts, suspect.untested, readings=readings
    )


def _shares(stories: Sequence[Story], suspect: Suspect) -> tuple[float, ...]:
    """The suspect's probability spread over its members by their rates."""
    groups = [group for story in stories for group in story.groups]
    known = {candidate.fault: candidate.rate for group in groups for candidate in group.members}
    rates = [known.get(member, 0.0) for member in suspect.members]
    total = sum(rates) or 1.0
    return tuple(suspect.probability * rate / total for rate in rates)
