"""The diagnosis of one machine: readings and findings in, ranked explanations and what to do next out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from time import perf_counter

from matrixcheck.diagnosis.explain import (
    Account,
    Group,
    Posterior,
    Story,
    account,
    marginal,
    posterior_of,
    stories_of,
)
from matrixcheck.diagnosis.faults import Candidate, candidates
from matrixcheck.diagnosis.findings import heed
from matrixcheck.diagnosis.likelihood import Fit
from matrixcheck.diagnosis.pool import Problem, fit_all, problem_of, subjects_of
from matrixcheck.diagnosis.rates import shipped_rates
from matrixcheck.diagnosis.result import Diagnosis, Explanation, Searched, Suspect
from matrixcheck.diagnosis.search import search
from matrixcheck.diagnosis.standing import cell_states
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading


def diagnose(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding] = (),
    cap_seconds: float = 1.0,
    clock: Callable[[], float] = perf_counter,
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
    problem = problem_of(subjects, heed(layout, candidates(layout, rates), findings))
    explored = search(problem, started + 0.7 * cap_seconds, clock)
    posterior = posterior_of(explored)
    stories = stories_of(problem, posterior)
    explanations, suspects = _assemble(layout, problem, posterior, stories)
    return Diagnosis(
        explanations=explanations,
        suspects=suspects,
        cells=cell_states(layout, readings, problem, posterior),
        searched=Searched(exact=explored.finished, seconds=round(clock() - started, 4)),
    )


def _assemble(
    layout: Layout, problem: Problem, posterior: Posterior, stories: Sequence[Story]
) -> tuple[tuple[Explanation, ...], tuple[Suspect, ...]]:
    known: dict[tuple[Candidate, ...], Suspect] = {}
    explanations: list[Explanation] = []
    for story in stories:
        names: list[str] = []
        for group in story.groups:
            if group.members not in known:
                known[group.members] = _suspect(layout, problem, posterior, story, group, f"s{len(known) + 1}")
            names.append(known[group.members].id)
        explanations.append(Explanation(probability=min(story.probability, 1.0), suspects=tuple(names)))
    return tuple(explanations), tuple(known.values())


def _suspect(
    layout: Layout, problem: Problem, posterior: Posterior, story: Story, group: Group, name: str
) -> Suspect:
    found = account(problem, *_with_and_without(problem, story, group), group)
    members = tuple(candidate.fault for candidate in group.members)
    return Suspect(
        id=name,
        probability=marginal(problem, posterior, group),
        members=members,
        explains=found.explains,
        contradicts=found.contradicts,
        untested=found.untested,
        says=_says(found),
    )


def _with_and_without(problem: Problem, story: Story, group: Group) -> tuple[tuple[Fit, ...], tuple[Fit, ...]]:
    chosen = [problem.items[index] for index in story.scored.faults]
    blows = any(item.blows_fuse for item in chosen)
    leads = [item.lead for item in chosen]
    if group.cell is not None:
        besides = [*leads, group.members[0]]
        return fit_all(problem.subjects, problem.healthy, besides, blows), story.scored.fits
    others = [problem.items[index].lead for index in story.scored.faults - group.items]
    return story.scored.fits, fit_all(problem.subjects, problem.healthy, others, blows)


def _says(found: Account) -> str:
    return f"explains {len(found.explains)} cells, {len(found.contradicts)} contradict it"
