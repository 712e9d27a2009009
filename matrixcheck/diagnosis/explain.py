"""From explored fault sets to explanations: sets of as many faults that predict the same are one, and faults that can
take each other's place in a set without changing any reading are one suspect."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import exp
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.condition import Setting, joint
from matrixcheck.diagnosis.evidence import FAINT, GLOW, LIT, Evidence
from matrixcheck.diagnosis.faults import Candidate
from matrixcheck.diagnosis.frame import Bools, States
from matrixcheck.diagnosis.items import Item, Signature, signature_of, variant
from matrixcheck.diagnosis.likelihood import Fit
from matrixcheck.diagnosis.pool import Problem
from matrixcheck.diagnosis.search import DISPLACING, Explored, Scored
from matrixcheck.layout.places import CellKey

MOST = 10
NEGLIGIBLE = 18.0
"""Sets this far below the best, in nats, are left out of explanations."""
COMPLETED = 24
"""So many of the best sets are completed with private causes and compared by what they then predict."""
SPEAKS_FOR = 2.0
"""What readings must add, in nats, before an unexplained cell stands as a suspect of its own."""
MOST_PRIVATE = 16
ALTERNATIVES = 200
IDLE = 0.1
"""A member without which the readings are no less likely than by so many nats is none of an explanation."""


class Group(NamedTuple):
    """Faults that no reading tells apart, likeliest first. `items`: the search's items among them. `cell`: set where
    they are one cell's private cause, dead or stuck (`stuck`)."""

    members: tuple[Candidate, ...]
    items: frozenset[int]
    cell: CellKey | None = None
    stuck: bool = False


class Part(NamedTuple):
    """One fault of a completed set: a search item (`number`), or one cell's private cause."""

    lead: Candidate
    number: int | None
    cell: CellKey | None
    stuck: bool
    item: Item | None


class Completed(NamedTuple):
    """A set with the private causes that its readings call for, and what all of it predicts."""

    parts: tuple[Part, ...]
    setting: Setting
    fits: tuple[Fit, ...]
    signature: Signature
    scored: Scored


class Story(NamedTuple):
    """One explanation: its groups, its probability, and the completed set that stands for it."""

    groups: tuple[Group, ...]
    probability: float
    completed: Completed


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


def stories_of(problem: Problem, posterior: Posterior, late: Callable[[], bool]) -> tuple[Story, ...]:
    """Up to ten explanations, best first. Groups of the first few are told apart reading by reading, as time allows;
    those of the others by how their faults look alone. A set whose faults all stand in the groups of another one is
    told by that one."""
    found: list[Story] = []
    top = posterior.sets[0].score
    for rank, (scored, probability) in enumerate(zip(posterior.sets, posterior.probabilities, strict=True)):
        if scored.score < top - NEGLIGIBLE or rank >= COMPLETED or (rank > 2 and late()):
            break
        completed = needed(problem, complete(problem, scored))
        told = next((place for place, story in enumerate(found) if _tells(story, completed)), None)
        if told is None:
            alone = len(found) > 2 or (bool(found) and late())
            found.append(Story(_groups(problem, completed, alone), probability, completed))
        else:
            found[told] = found[told]._replace(probability=found[told].probability + probability)
    return tuple(sorted(found, key=lambda story: -story.probability)[:MOST])


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
    """The set without members that change no reading: they may be there, but nothing speaks of them."""
    kept = completed
    for part in sorted(completed.parts, key=lambda part: part.item.weight if part.item else 0.0):
        rest = tuple(other for other in kept.parts if other is not part)
        fits = problem.fits([other.lead for other in rest], kept.setting)
        if sum(fit.bare for fit in fits) > sum(fit.bare for fit in kept.fits) - IDLE:
            signature = _told(problem, fits)
            if signature == kept.signature:
                kept = Completed(rest, kept.setting, fits, signature, kept.scored)
    return kept


def complete(problem: Problem, scored: Scored) -> Completed:
    """Adds a private cause for each cell whose readings the set leaves unexplained and that would be the better for
    it, the strongest first."""
    items = [(index, problem.items[index]) for index in sorted(scored.faults)]
    parts = [Part(item.lead, index, None, False, item) for index, item in items]
    setting = joint(item.setting for _, item in items)
    fits = scored.fits
    if parts or scored.fits:
        for part in _private_parts(problem, fits)[:MOST_PRIVATE]:
            more = problem.fits([*(each.lead for each in parts), part.lead], setting)
            if sum(fit.bare for fit in more) > sum(fit.bare for fit in fits) + SPEAKS_FOR / 2:
                parts.append(part)
                fits = more
    return Completed(tuple(parts), setting, fits, _told(problem, fits), scored)


def _private_parts(problem: Problem, fits: Sequence[Fit]) -> list[Part]:
    found: list[tuple[float, Part]] = []
    for subject, fit in zip(problem.subjects, fits, strict=True):
        for at, cell in subject.frame.cells.items():
            dead, stuck = float(fit.dead[at]), float(fit.stuck[at])
            if max(dead, stuck) > SPEAKS_FOR:
                is_stuck = stuck > dead
                item = problem.own(cell.key, is_stuck)
                if item is not None:
                    found.append((max(dead, stuck), Part(item.lead, None, cell.key, is_stuck, item)))
    return [part for _, part in sorted(found, key=lambda entry: -entry[0])]


def _groups(problem: Problem, completed: Completed, alone: bool) -> tuple[Group, ...]:
    if alone:
        return tuple(_group_alone(part) for part in completed.parts)
    return tuple(_group_in_context(problem, completed, place) for place in range(len(completed.parts)))


def _group_alone(part: Part) -> Group:
    members = part.item.members if part.item else (part.lead,)
    return Group(_likeliest_first(members), _items(part), part.cell, part.stuck)


def _group_in_context(problem: Problem, completed: Completed, place: int) -> Group:
    """The faults that may stand in for one part: swapped in, they leave every reading as it was, and need each of the
    others still."""
    part = completed.parts[place]
    rest = [other.lead for index, other in enumerate(completed.parts) if index != place]
    without = problem.fits(rest, completed.setting)
    members = dict.fromkeys(_of_one_kind(part.item, part.lead) if part.item else (part.lead,))
    items = set(_items(part))
    for index, other in _alternatives(problem, completed, part, without):
        setting = joint((other.setting, completed.setting))
        if _signature(problem, [*rest, other.lead], setting) != completed.signature:
            continue
        if any(
            _signature(problem, [*rest[:at], *rest[at + 1 :], other.lead], setting) == completed.signature
            for at in range(len(rest))
        ):
            continue
        members.update(dict.fromkeys(_of_one_kind(other, other.lead)))
        if index is not None:
            items.add(index)
    return Group(_likeliest_first(members), frozenset(items), part.cell, part.stuck)


def _of_one_kind(item: Item, lead: Candidate) -> tuple[Candidate, ...]:
    """The members that work as the lead does in any company."""
    return tuple(one for one in item.members if variant(one) == variant(lead))


def _signature(problem: Problem, faults: Sequence[Candidate], setting: Setting) -> Signature:
    return _told(problem, problem.fits(faults, setting))


def _told(problem: Problem, fits: Sequence[Fit]) -> Signature:
    """What shows at every place of every reading where something was seen, as far as readings can tell."""
    told = (
        fit._replace(state=subject.evidence.as_told(fit.state))
        for subject, fit in zip(problem.subjects, fits, strict=True)
    )
    return signature_of(problem.subjects, tuple(told))


def _alternatives(
    problem: Problem, completed: Completed, part: Part, without: Sequence[Fit]
) -> list[tuple[int | None, Item]]:
    """Items that touch some of what the part changes, those that touch most first; beside a fault that makes others
    show in other places, all of them."""
    marks = {
        subject.frame.matrix.id: ((there.state != gone.state) & subject.evidence.known).ravel()
        for subject, there, gone in zip(problem.subjects, completed.fits, without, strict=True)
    }
    elsewhere = 0.5 if any(other.lead.fault_class in DISPLACING for other in completed.parts) else 0.0

    def touching(item: Item) -> float:
        return sum(float(marks[name][places].sum()) for name, (places, _) in item.changes.items()) or elsewhere

    everyone = [*enumerate(problem.items), *((None, item) for item in problem.private_items)]
    ranked = [(touching(item), index, item) for index, item in everyone if item is not part.item]
    ranked = [entry for entry in ranked if entry[0]]
    return [(index, item) for _, index, item in sorted(ranked, key=lambda entry: -entry[0])[:ALTERNATIVES]]


def _items(part: Part) -> frozenset[int]:
    return frozenset() if part.number is None else frozenset((part.number,))


def _likeliest_first(members: Iterable[Candidate]) -> tuple[Candidate, ...]:
    return tuple(sorted(dict.fromkeys(members), key=lambda candidate: -candidate.rate))


def marginal(problem: Problem, posterior: Posterior, group: Group) -> float:
    """The probability that any fault of the group is there."""
    total = 0.0
    for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
        if probability < 1e-9:
            break
        if group.items & scored.faults:
            total += probability
        elif group.cell is not None:
            total += probability * _private_chance(problem, scored, group.cell, group.stuck)
    return min(total, 1.0)


def _private_chance(problem: Problem, scored: Scored, cell: CellKey, stuck: bool) -> float:
    place = problem.matrix_ids.index(cell.matrix)
    chances = scored.fits[place].posterior(problem.private[place])
    return float((chances.stuck if stuck else chances.dead)[problem.subjects[place].frame.at(cell)])


class Account(NamedTuple):
    """What a suspect explains, contradicts, and would touch that nobody tested."""

    explains: tuple[CellKey, ...]
    contradicts: tuple[CellKey, ...]
    untested: tuple[CellKey, ...]


def _as_seen(state: States, evidence: Evidence) -> Bools:
    """Where a prediction is what was seen; a glow may have been seen bright or faint."""
    seen = evidence.seen
    told: Bools = (state == seen) | ((state == GLOW) & ((seen == LIT) | (seen == FAINT)))
    return told


def account(problem: Problem, completed: Completed, group: Group) -> Account:
    """Compares what an explanation predicts with what it would predict without one of its suspects."""
    others = [part.lead for part in completed.parts if part.lead not in group.members]
    without = problem.fits(others, completed.setting)
    explains: set[CellKey] = set()
    contradicts: set[CellKey] = set()
    for subject, there, gone in zip(problem.subjects, completed.fits, without, strict=True):
        evidence = subject.evidence
        right, was_right = _as_seen(there.state, evidence), _as_seen(gone.state, evidence)
        differ = (there.state != gone.state) & evidence.known
        for found, wanted in ((explains, right & ~was_right), (contradicts, was_right & ~right)):
            places = np.argwhere((differ & wanted).any(axis=1) & (subject.frame.fitted > 0))
            found.update(subject.frame.cell_at(int(s), int(d)) for s, d in places)
    reach = {cell for member in group.members for cell in member.cells}
    tested = {reading.cell for subject in problem.subjects for reading in subject.evidence.readings}
    return Account(tuple(sorted(explains)), tuple(sorted(contradicts - explains)), tuple(sorted(reach - tested)))
