"""From explored fault sets to explanations: sets that predict the same are one, and faults that can take each other's
place in a set without changing any reading are one suspect."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence import LIT, UNKNOWN
from matrixcheck.diagnosis.faults import Candidate
from matrixcheck.diagnosis.items import Signature, signature_of
from matrixcheck.diagnosis.likelihood import Fit, Subject
from matrixcheck.diagnosis.pool import Problem
from matrixcheck.diagnosis.search import Explored, FaultSet, Scored
from matrixcheck.layout.places import CellKey

MOST = 10
NEGLIGIBLE = 18.0
"""Sets this far below the best, in nats, are left out of explanations."""


class Group(NamedTuple):
    """Faults that no reading tells apart. `items`: the search's items among them; `cell`: set where it is one cell's
    private cause, dead or stuck (`stuck`)."""

    members: tuple[Candidate, ...]
    items: frozenset[int]
    cell: CellKey | None = None
    stuck: bool = False


class Story(NamedTuple):
    """One explanation: its groups, its probability, and the set that stands for it."""

    groups: tuple[Group, ...]
    probability: float
    scored: Scored


class Posterior(NamedTuple):
    """Explored sets with their probabilities, best first."""

    sets: tuple[Scored, ...]
    probabilities: tuple[float, ...]


def posterior_of(explored: Explored) -> Posterior:
    """Normalised over what was explored."""
    ranked = explored.best()
    top = ranked[0].score
    weights = [exp(scored.score - top) for scored in ranked]
    total = sum(weights)
    return Posterior(tuple(ranked), tuple(weight / total for weight in weights))


def stories_of(problem: Problem, posterior: Posterior) -> tuple[Story, ...]:
    """Up to ten explanations, best first."""
    classes: dict[Signature, list[tuple[Scored, float]]] = {}
    top = posterior.sets[0].score
    for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
        if scored.score > top - NEGLIGIBLE:
            classes.setdefault(signature_of(problem.subjects, scored.fits), []).append((scored, probability))
    stories = [_story(problem, members) for members in classes.values()]
    return tuple(sorted(stories, key=lambda story: -story.probability)[:MOST])


def _story(problem: Problem, alike: Sequence[tuple[Scored, float]]) -> Story:
    lead = alike[0][0]
    sets = {scored.faults for scored, _ in alike}
    groups = [_group(problem, lead.faults, member, sets) for member in sorted(lead.faults)]
    groups.extend(private_groups(problem, lead.fits))
    return Story(tuple(groups), sum(probability for _, probability in alike), lead)


def _group(problem: Problem, faults: FaultSet, member: int, alike: Iterable[FaultSet]) -> Group:
    rest = faults - {member}
    swaps = {next(iter(other - rest)) for other in alike if len(other) == len(faults) and rest < other}
    items = sorted(swaps | {member}, key=lambda index: -problem.items[index].weight)
    members = dict.fromkeys(candidate for index in items for candidate in problem.items[index].members)
    return Group(tuple(sorted(members, key=lambda candidate: -candidate.rate)), frozenset(items))


def private_groups(problem: Problem, fits: Sequence[Fit]) -> Iterable[Group]:
    """One group for each dead or stuck cell that the fits leave unexplained."""
    for place, (subject, fit) in enumerate(zip(problem.subjects, fits, strict=True)):
        chances = fit.posterior(problem.private[place])
        for at, cell in subject.frame.cells.items():
            dead, seen = chances.dead[at], _judged(subject, fit, at)
            if seen == "dead" or dead > 0.5:
                yield Group(problem.alike_dead.get(cell.key) or problem.own_dead(cell.key), frozenset(), cell.key)
            elif seen == "stuck" or chances.stuck[at] > 0.5:
                yield Group(problem.alike_stuck.get(cell.key) or problem.own_stuck(cell.key), frozenset(), cell.key, True)


def _judged(subject: Subject, fit: Fit, at: tuple[int, int]) -> str:
    """What the readings say of a cell against the fit: "dead" where it never answers though it should, "stuck" where
    it answers at all times though it shouldn't."""
    evidence = subject.evidence
    sensed, driven = at
    expected = fit.shown.on if fit.shown.glow is None else fit.shown.on | fit.shown.glow
    seen, on = evidence.seen[sensed, :, driven], expected[sensed, :, driven]
    own = evidence.exercised[sensed, :, driven] > 0
    own_known = own & (seen != UNKNOWN)
    if own_known.any() and on[own_known].all() and not (seen[own_known] == LIT).any():
        return "dead"
    other = ~own & (seen != UNKNOWN) & (evidence.exercises.closed[sensed, :, driven] == 0)
    if other.any() and not on[other].any() and (seen[other] == LIT).all():
        return "stuck"
    return ""


def marginal(problem: Problem, posterior: Posterior, group: Group) -> float:
    """The probability that any fault of the group is there."""
    total = 0.0
    for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
        if probability < 1e-9:
            break
        if group.items & scored.faults:
            total += probability
        elif group.cell is not None:
            total += probability * _private_chance(problem, scored, group)
    return min(total, 1.0)


def _private_chance(problem: Problem, scored: Scored, group: Group) -> float:
    place = problem.matrix_ids.index(group.cell.matrix)  # type: ignore[union-attr]
    at = problem.subjects[place].frame.at(group.cell)  # type: ignore[arg-type]
    chances = scored.fits[place].posterior(problem.private[place])
    return float((chances.stuck if group.stuck else chances.dead)[at])


class Account(NamedTuple):
    """What a suspect explains, contradicts, and would touch that nobody tested."""

    explains: tuple[CellKey, ...]
    contradicts: tuple[CellKey, ...]
    untested: tuple[CellKey, ...]


def account(problem: Problem, with_it: Sequence[Fit], without: Sequence[Fit], group: Group) -> Account:
    """Compares the fits of an explanation with those of the same explanation less one suspect."""
    explains: set[CellKey] = set()
    contradicts: set[CellKey] = set()
    for subject, there, gone in zip(problem.subjects, with_it, without, strict=True):
        if there is gone:
            continue
        evidence = subject.evidence
        lit = evidence.seen == LIT
        differ = (there.shown.on != gone.shown.on) & (evidence.seen != UNKNOWN)
        for found, wanted in ((explains, there.shown.on == lit), (contradicts, gone.shown.on == lit)):
            places = np.argwhere((differ & wanted).any(axis=1))
            found.update(subject.frame.cell_at(int(s), int(d)) for s, d in places)
    reach = {cell for member in group.members[:1] for cell in member.cells}
    tested = {reading.cell for subject in problem.subjects for reading in subject.evidence.readings}
    return Account(tuple(sorted(explains)), tuple(sorted(contradicts - explains)), tuple(sorted(reach - tested)))
