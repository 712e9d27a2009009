"""Turn weighted fault sets into explanations.

Sets of as many faults with the same prediction are one explanation; faults that can replace each other in a set without
changing any reading are one ambiguity group.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import prod
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted, Seen
from matrixcheck.diagnosis.explanation.alternatives import Alternatives
from matrixcheck.diagnosis.explanation.ambiguity_groups import IDLE, group_alone, group_in_context, observable_signature
from matrixcheck.diagnosis.explanation.completed_sets import Completed, Group, Part
from matrixcheck.diagnosis.forward.fault_effects import joint
from matrixcheck.diagnosis.inference.candidate_classes import Item, chance_of
from matrixcheck.diagnosis.inference.likelihood import Fit, Private
from matrixcheck.diagnosis.inference.posterior import FaultSet, Posterior, Scored, Solution
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, States
from matrixcheck.layout.places import CellKey

MOST_EXPLANATIONS = 10
"""Explanations that are given: the answer's format has room for ten."""
NEGLIGIBLE = 18.0
"""Sets this far below the best, in nats, are left out: one weighs under 2e-8 of the best. Halved or doubled: no answer
of 15 moves."""
MOST_COMPLETED = 24
"""Best sets that are completed with private causes and compared by prediction: enough for ten explanations. Halved: 1
of 15 answers moves; doubled: none."""
MOST_GROUPED = 3
"""Likeliest explanations whose groups are compared reading by reading, which costs most of this step. Halved or
doubled: no answer of 15 moves."""
IMPROBABLE = 0.001
"""Below this probability an explanation's groups are approximate: nobody acts on them. Halved or doubled: no answer of
15 moves."""
LEAST_GAIN = 2.0
"""Nats that a private cause must gain before its cell is a suspect: half the weight of a mark (1 % are wrong). Halved
or doubled: no answer of 15 moves."""
MOST_PRIVATE = 16
"""Private causes that complete one set, largest gain first; each costs an evaluation. Halved or doubled: no answer of
15 moves."""


class RegionExplanation(NamedTuple):
    """Explain one region by ambiguity groups, with the completed set that stands for them.

    `approximate`: its groups are taken from likelier explanations, or are how its faults look alone.
    """

    groups: tuple[Group, ...]
    probability: float
    completed: Completed
    approximate: bool = False


def explanations_of(
    solution: Solution, work: Work, alternatives: Alternatives | None = None
) -> tuple[RegionExplanation, ...]:
    """Return up to ten explanations, best first.

    Groups of the first few are compared reading by reading, as far as the work goes; those of the others, and of
    improbable ones, are approximate. A set whose faults all stand in the groups of an explanation adds to its
    probability. `alternatives`: those of earlier explanations of the same problem.
    """
    problem, posterior = solution.problem, solution.posterior
    alternatives = alternatives or Alternatives(problem)
    found: list[RegionExplanation] = []
    top = posterior.sets[0].score
    for rank, (scored, probability) in enumerate(zip(posterior.sets, posterior.probabilities, strict=True)):
        if scored.score < top - NEGLIGIBLE or rank >= MOST_COMPLETED or (rank > 2 and work.over):
            break
        completed = without_idle(problem, complete(problem, scored))
        held_by = next((place for place, explanation in enumerate(found) if _covers(explanation, completed)), None)
        if held_by is None:
            approximate = len(found) >= MOST_GROUPED or probability < IMPROBABLE
            groups = _groups(alternatives, completed, found, None if approximate else work)
            found.append(RegionExplanation(groups, probability, completed, approximate))
        else:
            found[held_by] = found[held_by]._replace(probability=found[held_by].probability + probability)
    ranked = sorted(found, key=lambda explanation: -round(explanation.probability, 12))[:MOST_EXPLANATIONS]
    return tuple(
        explanation._replace(groups=_groups(alternatives, explanation.completed, (), work))
        if explanation.approximate and place < MOST_GROUPED and explanation.probability >= IMPROBABLE
        else explanation
        for place, explanation in enumerate(ranked)
    )


def _covers(explanation: RegionExplanation, completed: Completed) -> bool:
    """Return whether an explanation's groups hold every fault of a set of as many, each in a group of its own."""
    if len(explanation.groups) != len(completed.parts) or explanation.completed.signature != completed.signature:
        return False
    left = list(explanation.groups)
    for part in completed.parts:
        held = next((group for group in left if part.lead in group.members), None)
        if held is None:
            return False
        left.remove(held)
    return True


def without_idle(problem: Problem, completed: Completed) -> Completed:
    """Return the set without idle members, which improve no reading: there is no evidence of them.

    Nor is what shows as one dead or stuck cell a member for less than a private cause of that cell must gain.
    """
    kept = completed
    for part in sorted(completed.parts, key=lambda part: part.item.weight if part.item else 0.0):
        rest = tuple(other for other in kept.parts if other is not part)
        fits = problem.fits([other.lead for other in rest], kept.setting)
        gained = sum(fit.bare for fit in kept.fits) - sum(fit.bare for fit in fits)
        of_a_cell = gained < LEAST_GAIN / 2 and _is_of_one_cell(problem, part)
        if of_a_cell or gained < IDLE:
            signature = observable_signature(problem, fits)
            if of_a_cell or signature == kept.signature or not _compared(problem, kept.fits, fits)[0]:
                kept = Completed(rest, kept.setting, fits, signature)
    return kept


def _is_of_one_cell(problem: Problem, part: Part) -> bool:
    """Return whether a fault of lines shows alone as one of its cells that is dead, or stuck."""
    item = part.item
    if item is None or not item.lead.lines or item.setting.loose:
        return False
    own = (problem.own(cell, stuck) for cell in item.lead.cells for stuck in (False, True))
    return any(one is not None and _changes_the_same(one, item) for one in own)


def _changes_the_same(one: Item, other: Item) -> bool:
    if one.changes.keys() != other.changes.keys():
        return False
    return all(each.equals(other.changes[name]) for name, each in one.changes.items())


def complete(problem: Problem, scored: Scored) -> Completed:
    """Add a private cause for each cell that it explains better, largest gain first."""
    items = [(index, problem.items[index]) for index in sorted(scored.faults)]
    parts = [Part(item.lead, index, None, False, item) for index, item in items]
    setting = joint(item.setting for _, item in items)
    fits = problem.fits_of(scored.faults)
    for part in _private_parts(problem, fits)[:MOST_PRIVATE]:
        more = problem.fits([*(each.lead for each in parts), part.lead], setting)
        if sum(fit.bare for fit in more) > sum(fit.bare for fit in fits) + LEAST_GAIN / 2:
            parts.append(part)
            fits = more
    return Completed(tuple(parts), setting, fits, observable_signature(problem, fits))


def _private_parts(problem: Problem, fits: Sequence[Fit]) -> list[Part]:
    """Return the private causes that would gain enough, largest gain first."""
    found: list[tuple[float, Part]] = []
    for subject, fit in zip(problem.subjects, fits, strict=True):
        for at, cell in subject.cells.items():
            dead, stuck = float(fit.dead[at]), float(fit.stuck[at])
            if max(dead, stuck) > LEAST_GAIN:
                is_stuck = stuck > dead
                item = problem.own(cell.key, is_stuck)
                if item is not None:
                    found.append((max(dead, stuck), Part(item.lead, None, cell.key, is_stuck, item)))
    return [part for _, part in sorted(found, key=lambda entry: -entry[0])]


def _groups(
    alternatives: Alternatives, completed: Completed, likelier: Sequence[RegionExplanation], work: Work | None
) -> tuple[Group, ...]:
    """Return the groups of a set's faults; approximate ones where `work` is None or used up."""
    known = [group for explanation in likelier for group in explanation.groups]
    found: list[Group] = []
    for place, part in enumerate(completed.parts):
        found.append(
            _approximate_group(part, known, found)
            if work is None or work.over
            else group_in_context(alternatives, completed, place, work)
        )
    return tuple(found)


def _approximate_group(part: Part, known: Sequence[Group], taken: Sequence[Group]) -> Group:
    """Return a group that holds a part: a known one, or how the part looks alone, or just the part itself.

    Two faults of a set are two suspects: none of the groups `taken` serves again.
    """
    alone = group_alone(part)
    held = [*(group for group in known if part.lead in group.members), alone]
    members = {group.members for group in taken}
    at = alone.members.index(part.lead)
    itself = alone._replace(members=(part.lead,), fittings=(alone.fittings[at],))
    return next((group for group in held if group.members not in members), itself)


class Marginals:
    """Sum the probabilities of faults over all sets of a posterior."""

    def __init__(self, problem: Problem, posterior: Posterior) -> None:
        self._problem = problem
        self._posterior = posterior
        self._chances: dict[tuple[FaultSet, int], Private] = {}

    def of(self, group: Group) -> float:
        """Return the probability that any fault of the group is there."""
        items, posterior, total = self._problem.items, self._posterior, 0.0
        for place, (scored, probability) in enumerate(zip(posterior.sets, posterior.probabilities, strict=True)):
            if probability < 1e-9:
                break
            if group.items & scored.faults:
                total += probability
                continue
            absent = prod(1 - chance_of(items[item].weight) for item in group.items & posterior.hidden_behind(place))
            for cell, stuck in group.private:
                absent *= 1 - self._private_chance(scored, cell, stuck)
            total += probability * (1 - absent)
        return min(total, 1.0)

    def _private_chance(self, scored: Scored, cell: CellKey, stuck: bool) -> float:
        problem = self._problem
        place = problem.matrix_ids.index(cell.matrix)
        key = scored.faults, place
        if key not in self._chances:
            self._chances[key] = problem.fit_of(place, scored.faults).posterior(problem.private[place])
        chances = self._chances[key]
        return float((chances.stuck if stuck else chances.dead)[problem.subjects[place].frame.at(cell)])


class Account(NamedTuple):
    """List the cells that a suspect explains, those against it, and those of it that nobody tested."""

    explains: tuple[CellKey, ...]
    contradicts: tuple[CellKey, ...]
    untested: tuple[CellKey, ...]


def _as_seen(predicted: States, seen: States) -> Bools:
    """Return where a prediction is what was seen; a glow may have been seen bright or faint. Arrays of one shape."""
    glows = (predicted == Predicted.GLOW) & ((seen == Seen.LIT) | (seen == Seen.FAINT))
    same: Bools = (predicted == seen) | glows
    return same


def account(problem: Problem, completed: Completed, group: Group) -> Account:
    """Compare what an explanation predicts with what it would predict without one of its groups."""
    others = [part.lead for part in completed.parts if part.lead not in group.members]
    without = problem.fits(others, completed.setting)
    explains, contradicts = _compared(problem, completed.fits, without)
    loose = completed.setting.loose
    if loose and loose.isdisjoint(group.members):
        # What a loose fault shows by chance, and this one always, this one explains as well.
        lasting = [part.lead for part in completed.parts if part.lead not in loose]
        left = [lead for lead in lasting if lead not in group.members]
        always = completed.setting._replace(loose=frozenset())
        explains |= _compared(problem, problem.fits(lasting, always), problem.fits(left, always))[0]
    reach = {cell for member in group.members for cell in member.cells}
    untested = reach - problem.tested
    return Account(tuple(sorted(explains)), tuple(sorted(contradicts - explains)), tuple(sorted(untested)))


def _compared(problem: Problem, fits: Sequence[Fit], without: Sequence[Fit]) -> tuple[set[CellKey], set[CellKey]]:
    """Return the cells that the first fits predict better than the others do, and those that they predict worse."""
    explains: set[CellKey] = set()
    contradicts: set[CellKey] = set()
    for subject, there, gone in zip(problem.subjects, fits, without, strict=True):
        evidence, frame = subject.evidence, subject.frame
        places = np.flatnonzero((there.state != gone.state) & evidence.known)
        seen, now, before = (each.ravel()[places] for each in (evidence.seen, there.state, gone.state))
        right, was_right = _as_seen(now, seen), _as_seen(before, seen)
        gained = evidence.log_weights_at(now, places) - evidence.log_weights_at(before, places)
        nearer = gained > LEAST_GAIN / 2  # what was seen is clearly likelier: light seen as a glow, say
        sensed, _, driven = np.unravel_index(places, evidence.seen.shape)
        fitted = frame.fitted[sensed, driven] > 0
        for found, wanted in ((explains, (right & ~was_right) | nearer), (contradicts, was_right & ~right)):
            chosen = wanted & fitted
            cells = set(zip(sensed[chosen].tolist(), driven[chosen].tolist(), strict=True))
            found.update(frame.cell_at(s, d) for s, d in cells)
    return explains, contradicts
