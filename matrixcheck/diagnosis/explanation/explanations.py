"""From explored fault sets to explanations: sets of as many faults that predict the same are one, and faults that can
take each other's place in a set without changing any reading are one suspect."""

from __future__ import annotations

from collections.abc import Sequence
from math import prod
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted, Seen
from matrixcheck.diagnosis.evidence.observations import Evidence
from matrixcheck.diagnosis.explanation.ambiguity_groups import (
    IDLE,
    Completed,
    Group,
    Part,
    group_alone,
    group_in_context,
    told_by,
)
from matrixcheck.diagnosis.forward.fault_effects import joint
from matrixcheck.diagnosis.inference.candidate_classes import chance_of
from matrixcheck.diagnosis.inference.likelihood import Fit
from matrixcheck.diagnosis.inference.posterior import Posterior, Scored, Solution
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, States
from matrixcheck.layout.places import CellKey

MOST = 10
NEGLIGIBLE = 18.0
"""Sets this far below the best, in nats, are left out of explanations."""
COMPLETED = 24
"""So many of the best sets are completed with private causes and compared by what they then predict."""
CLOSELY = 3
"""The groups of so many explanations, the likeliest, are told apart reading by reading."""
HARDLY = 0.001
"""The groups of an explanation less probable than this are those that its faults have in likelier ones, or alone."""
SPEAKS_FOR = 2.0
"""What readings must add, in nats, before an unexplained cell stands as a suspect of its own."""
MOST_PRIVATE = 16


class Story(NamedTuple):
    """One explanation: its groups, its probability, and the completed set that stands for it. `roughly`: its groups are
    those that likelier explanations have found, or how its faults look alone."""

    groups: tuple[Group, ...]
    probability: float
    completed: Completed
    roughly: bool = False


def stories_of(solution: Solution, work: Work) -> tuple[Story, ...]:
    """Up to ten explanations, best first.

    Groups of the first few are told apart reading by reading, as far as the work goes; those of the others, and of what
    is hardly likely, are what likelier ones have found, or how their faults look alone. A set whose faults all stand
    in the groups of another one is told by that one.
    """
    problem, posterior = solution.problem, solution.posterior
    found: list[Story] = []
    top = posterior.sets[0].score
    for rank, (scored, probability) in enumerate(zip(posterior.sets, posterior.probabilities, strict=True)):
        if scored.score < top - NEGLIGIBLE or rank >= COMPLETED or (rank > 2 and work.over):
            break
        completed = needed(problem, complete(problem, scored))
        told = next((place for place, story in enumerate(found) if _tells(story, completed)), None)
        if told is None:
            roughly = len(found) >= CLOSELY or probability < HARDLY
            groups = _groups(problem, completed, found, None if roughly else work)
            found.append(Story(groups, probability, completed, roughly))
        else:
            found[told] = found[told]._replace(probability=found[told].probability + probability)
    ranked = sorted(found, key=lambda story: -round(story.probability, 12))[:MOST]
    return tuple(
        story._replace(groups=_groups(problem, story.completed, (), work))
        if story.roughly and place < CLOSELY and story.probability >= HARDLY
        else story
        for place, story in enumerate(ranked)
    )


def _tells(story: Story, completed: Completed) -> bool:
    """Whether an explanation's groups hold every fault of a set of as many, each in a group of its own."""
    if len(story.groups) != len(completed.parts) or story.completed.signature != completed.signature:
        return False
    left = list(story.groups)
    for part in completed.parts:
        held = next((group for group in left if part.lead in group.members), None)
        if held is None:
            return False
        left.remove(held)
    return True


def needed(problem: Problem, completed: Completed) -> Completed:
    """The set without members that change no reading, or none for the better: they may be there, but nothing speaks for
    them."""
    kept = completed
    for part in sorted(completed.parts, key=lambda part: part.item.weight if part.item else 0.0):
        rest = tuple(other for other in kept.parts if other is not part)
        fits = problem.fits([other.lead for other in rest], kept.setting)
        if sum(fit.bare for fit in fits) > sum(fit.bare for fit in kept.fits) - IDLE:
            signature = told_by(problem, fits)
            if signature == kept.signature or not _compared(problem, kept.fits, fits)[0]:
                kept = Completed(rest, kept.setting, fits, signature)
    return kept


def complete(problem: Problem, scored: Scored) -> Completed:
    """Adds a private cause for each cell whose readings the set leaves unexplained and that would be the better for
    it, the strongest first."""
    items = [(index, problem.items[index]) for index in sorted(scored.faults)]
    parts = [Part(item.lead, index, None, False, item) for index, item in items]
    setting = joint(item.setting for _, item in items)
    fits = problem.fits_of(scored.faults)
    for part in _private_parts(problem, fits)[:MOST_PRIVATE]:
        more = problem.fits([*(each.lead for each in parts), part.lead], setting)
        if sum(fit.bare for fit in more) > sum(fit.bare for fit in fits) + SPEAKS_FOR / 2:
            parts.append(part)
            fits = more
    return Completed(tuple(parts), setting, fits, told_by(problem, fits))


def _private_parts(problem: Problem, fits: Sequence[Fit]) -> list[Part]:
    found: list[tuple[float, Part]] = []
    for subject, fit in zip(problem.subjects, fits, strict=True):
        for at, cell in subject.cells.items():
            dead, stuck = float(fit.dead[at]), float(fit.stuck[at])
            if max(dead, stuck) > SPEAKS_FOR:
                is_stuck = stuck > dead
                item = problem.own(cell.key, is_stuck)
                if item is not None:
                    found.append((max(dead, stuck), Part(item.lead, None, cell.key, is_stuck, item)))
    return [part for _, part in sorted(found, key=lambda entry: -entry[0])]


def _groups(problem: Problem, completed: Completed, likelier: Sequence[Story], work: Work | None) -> tuple[Group, ...]:
    """The groups of a set's faults; without work, those that likelier explanations have found."""
    known = [group for story in likelier for group in story.groups]
    found: list[Group] = []
    for place, part in enumerate(completed.parts):
        found.append(
            _roughly(part, known, found)
            if work is None or work.over
            else group_in_context(problem, completed, place, work)
        )
    return tuple(found)


def _roughly(part: Part, known: Sequence[Group], taken: Sequence[Group]) -> Group:
    """A group that holds a part: one of likelier explanations, or how the part looks alone, or else just the part
    itself. Two faults of a set are two suspects, so that none of those `taken` serves again."""
    alone = group_alone(part)
    held = [*(group for group in known if part.lead in group.members), alone]
    members = {group.members for group in taken}
    at = alone.members.index(part.lead)
    itself = alone._replace(members=(part.lead,), fittings=(alone.fittings[at],))
    return next((group for group in held if group.members not in members), itself)


def marginal(problem: Problem, posterior: Posterior, group: Group) -> float:
    """The probability that any fault of the group is there."""
    total = 0.0
    for place, (scored, probability) in enumerate(zip(posterior.sets, posterior.probabilities, strict=True)):
        if probability < 1e-9:
            break
        if group.items & scored.faults:
            total += probability
            continue
        absent = prod(
            1 - chance_of(problem.items[item].weight) for item in group.items & posterior.hidden_behind(place)
        )
        if group.cell is not None:
            absent *= 1 - _private_chance(problem, scored, group.cell, group.stuck)
        total += probability * (1 - absent)
    return min(total, 1.0)


def _private_chance(problem: Problem, scored: Scored, cell: CellKey, stuck: bool) -> float:
    place = problem.matrix_ids.index(cell.matrix)
    chances = problem.fits_of(scored.faults)[place].posterior(problem.private[place])
    return float((chances.stuck if stuck else chances.dead)[problem.subjects[place].frame.at(cell)])


class Account(NamedTuple):
    """What a suspect explains, contradicts, and would touch that nobody tested."""

    explains: tuple[CellKey, ...]
    contradicts: tuple[CellKey, ...]
    untested: tuple[CellKey, ...]


def _as_seen(state: States, evidence: Evidence) -> Bools:
    """Where a prediction is what was seen; a glow may have been seen bright or faint."""
    seen = evidence.seen
    told: Bools = (state == seen) | ((state == Predicted.GLOW) & ((seen == Seen.LIT) | (seen == Seen.FAINT)))
    return told


def account(problem: Problem, completed: Completed, group: Group) -> Account:
    """Compares what an explanation predicts with what it would predict without one of its suspects."""
    others = [part.lead for part in completed.parts if part.lead not in group.members]
    without = problem.fits(others, completed.setting)
    explains, contradicts = _compared(problem, completed.fits, without)
    reach = {cell for member in group.members for cell in member.cells}
    untested = reach - problem.tested
    return Account(tuple(sorted(explains)), tuple(sorted(contradicts - explains)), tuple(sorted(untested)))


def _compared(problem: Problem, fits: Sequence[Fit], without: Sequence[Fit]) -> tuple[set[CellKey], set[CellKey]]:
    """The cells that were seen as the first fits predict, or more nearly so, and not as the others do; and those of
    which it is the other way about."""
    explains: set[CellKey] = set()
    contradicts: set[CellKey] = set()
    for subject, there, gone in zip(problem.subjects, fits, without, strict=True):
        evidence = subject.evidence
        right, was_right = _as_seen(there.state, evidence), _as_seen(gone.state, evidence)
        differ = (there.state != gone.state) & evidence.known
        better = (right & ~was_right) | _nearer(there.state, gone.state, evidence)
        for found, wanted in ((explains, better), (contradicts, was_right & ~right)):
            places = np.argwhere((differ & wanted).any(axis=1) & (subject.frame.fitted > 0))
            found.update(subject.frame.cell_at(int(s), int(d)) for s, d in places)
    return explains, contradicts


def _nearer(state: States, other: States, evidence: Evidence) -> Bools:
    """Where the first of two predictions makes what was seen clearly the likelier: light was seen as a glow, say."""
    places = np.arange(state.size)
    gained = evidence.log_weights_at(state.ravel(), places) - evidence.log_weights_at(other.ravel(), places)
    nearer: Bools = (gained > SPEAKS_FOR / 2).reshape(state.shape)
    return nearer
