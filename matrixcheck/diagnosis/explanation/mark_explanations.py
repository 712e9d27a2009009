"""From ways it may be to explanations: what looks the same with as many faults is one, and faults that can take each
other's place without changing a mark are one suspect."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.observations import DARK, LIT
from matrixcheck.diagnosis.explanation.explanations import MOST, MOST_PRIVATE, SPEAKS_FOR
from matrixcheck.diagnosis.explanation.mark_ways import Cut, Way, code_of, without_idle
from matrixcheck.diagnosis.inference.exact.cell_likelihood import private_chances
from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.problem import Problem
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints, States

SHOWS_DEAD, SHOWS_STUCK = DARK * 4 + DARK, LIT * 4 + LIT
MOST_STORIES = MOST + 6
CLOSELY = 6
"""For so many explanations it is looked at what may take the place of their faults in them."""


class Group(NamedTuple):
    """Faults that no mark tells apart in their set: items and cuts of the component, or what is one cell's own
    (`place`, dead or `stuck`)."""

    items: frozenset[int]
    cuts: frozenset[Cut]
    place: int | None = None
    stuck: bool = False


class Story(NamedTuple):
    """One explanation of a component's marks: its probability there; its groups, of which those that are a cell's own
    come last, with what speaks for each in nats; and the way that stands for it."""

    probability: float
    groups: tuple[Group, ...]
    strength: tuple[float, ...]
    way: Way


class Own(NamedTuple):
    """The cells that call for a cause of their own, by place, whether stuck, and how loudly."""

    place: int
    stuck: bool
    strength: float


def stories_of(problem: Problem, component: Component, ways: Sequence[Way]) -> tuple[Story, ...]:
    """The explanations of a component, most probable first."""
    classes: dict[tuple[bytes, int], list[int]] = {}
    stories: list[Story] = []
    for way in ways:
        reduced = without_idle(component, way)
        own = own_causes(problem, component.cells, component.states_of(reduced.code))
        shown = _shown(component, reduced.code, own)
        alike = classes.setdefault((shown.tobytes(), len(reduced.items) + len(reduced.cuts) + len(own)), [])
        for at in alike:
            if _is_told_by(stories[at], reduced):
                stories[at] = stories[at]._replace(probability=stories[at].probability + way.probability)
                break
        else:
            if len(stories) < MOST_STORIES:
                alike.append(len(stories))
                groups = (
                    _groups(component, reduced, own, shown) if len(stories) < CLOSELY else _as_they_are(reduced, own)
                )
                strength = (*([np.inf] * (len(groups) - len(own))), *(one.strength for one in own))
                stories.append(Story(way.probability, groups, strength, reduced))
    return tuple(sorted(stories, key=lambda story: -story.probability))


def own_causes(problem: Problem, cells: Ints, states: Ints) -> list[Own]:
    """What these cells call for in these states, the loudest first."""
    dead, stuck = problem.weights.dead[cells, states], problem.weights.stuck[cells, states]
    dead, stuck = np.where(problem.marks.tested[cells], dead, 0.0), np.where(problem.marks.tested[cells], stuck, 0.0)
    places = np.flatnonzero(np.maximum(dead, stuck) > SPEAKS_FOR)
    found = [Own(int(at), bool(stuck[at] > dead[at]), float(max(dead[at], stuck[at]))) for at in places]
    return sorted(found, key=lambda one: -one.strength)


def _shown(component: Component, code: Ints, own: Sequence[Own]) -> States:
    shown: States = component.shown[np.arange(len(code)), code]
    for one in own:
        shown[one.place] = SHOWS_STUCK if one.stuck else SHOWS_DEAD
    return shown


def _is_told_by(story: Story, way: Way) -> bool:
    """Whether each fault of the way stands in a group of its own in the story."""
    shared = [group for group in story.groups if group.place is None]
    parts: list[int | Cut] = [*way.items, *way.cuts]
    if len(parts) != len(shared):
        return False
    holds = [[_holds(group, part) for group in shared] for part in parts]
    return _matches(holds, frozenset())


def _holds(group: Group, part: int | Cut) -> bool:
    return part in group.items if isinstance(part, int) else part in group.cuts


def _matches(holds: Sequence[Sequence[bool]], taken: frozenset[int]) -> bool:
    if not holds:
        return True
    return any(fits and at not in taken and _matches(holds[1:], taken | {at}) for at, fits in enumerate(holds[0]))


def _groups(component: Component, way: Way, own: Sequence[Own], shown: States) -> tuple[Group, ...]:
    """What may take the place of each fault: swapped in, it leaves every mark as it was, and needs the others still."""
    parts = [*(((item,), ()) for item in way.items), *(((), (cut,)) for cut in way.cuts)]
    found = []
    for at, (items, cuts) in enumerate(parts):
        besides = [part for other, part in enumerate(parts) if other != at]
        swaps = _swaps(component, besides, own, shown)
        found.append(Group(frozenset(items) | swaps.items, frozenset(cuts) | swaps.cuts))
    for at, one in enumerate(own):
        others_own = [other for other in own if other is not one]
        others = _swaps(component, parts, others_own, shown).items if at < MOST_PRIVATE else frozenset[int]()
        found.append(Group(others, frozenset(), one.place, one.stuck))
    return tuple(found)


def _as_they_are(way: Way, own: Sequence[Own]) -> tuple[Group, ...]:
    """Each fault by itself."""
    nothing: frozenset[int] = frozenset()
    items = [Group(frozenset({item}), frozenset()) for item in way.items]
    cuts = [Group(nothing, frozenset({cut})) for cut in way.cuts]
    return (*items, *cuts, *(Group(nothing, frozenset(), one.place, one.stuck) for one in own))


def _swaps(
    component: Component, others: Sequence[tuple[Sequence[int], Sequence[Cut]]], own: Sequence[Own], shown: States
) -> Group:
    """What completes the others to what is shown, without making any of them idle."""
    rest = _joined(component, others)
    needed = np.flatnonzero(_shown(component, rest, own) != shown).tolist()
    items = np.flatnonzero((component.codes[:, needed] > 0).all(axis=1))
    items = items[_completes(component, items, rest, own, shown)]
    for at in range(len(others)):
        fewer = _joined(component, [*others[:at], *others[at + 1 :]])
        items = items[~_completes(component, items, fewer, own, shown)]
    for one in own:
        items = items[~_completes(component, items, rest, [other for other in own if other is not one], shown)]
    cuts = set()
    for number, line in enumerate(component.loose):
        if len(needed) > 1 and set(needed) <= set(line.places):
            code = rest.copy()
            code[needed] |= line.bit
            if (_shown(component, code, own) == shown).all():
                cuts.add((number, frozenset(needed)))
    return Group(frozenset(items.tolist()), frozenset(cuts))


def _joined(component: Component, parts: Sequence[tuple[Sequence[int], Sequence[Cut]]]) -> Ints:
    return code_of(
        component, [item for items, _ in parts for item in items], [cut for _, cuts in parts for cut in cuts]
    )


def _completes(component: Component, items: Ints, rest: Ints, own: Sequence[Own], shown: States) -> Bools:
    """For each of the items: whether with it, what is shown is shown."""
    same = component.shown[np.arange(len(rest)), component.codes[items] | rest] == shown
    same[:, [one.place for one in own]] = True
    every: Bools = np.logical_and.reduce(same, axis=1)
    return every


class Posterior(NamedTuple):
    """The ways of a component as arrays: the probability of each [way]; whether an item is there, or may be without a
    trace [way, item]; the chances that a cell is dead, or stuck, for a reason of its own [way, place]; and the cuts."""

    probability: Floats
    there: Bools
    hidden: Bools
    dead: Floats
    stuck: Floats
    cuts: tuple[frozenset[Cut], ...]

    def of_cells(self) -> Floats:
        """For each place: the chance of a cause of its own."""
        total = self.probability.sum()
        found: Floats = self.probability @ (self.dead + self.stuck) / total if total else self.probability @ self.dead
        return found


def posterior_of(problem: Problem, component: Component, ways: Sequence[Way]) -> Posterior:
    """The ways of a component as arrays."""
    there, hidden = np.zeros((2, len(ways), len(component.codes)), dtype=bool)
    for at, way in enumerate(ways):
        there[at, list(way.items)] = True
        hidden[at, list(way.free)] = True
    codes = np.array([way.code for way in ways]).reshape(len(ways), len(component.cells))
    each = private_chances(
        problem.weights, component.cells[:, None], component.states.astype(np.int64), problem.dead, problem.stuck
    )
    dead, stuck = (chances[np.arange(len(component.cells)), codes] for chances in each)
    probability = np.array([way.probability for way in ways])
    return Posterior(probability, there, hidden, dead, stuck, tuple(frozenset(way.cuts) for way in ways))


def chance_of(component: Component, posterior: Posterior, group: Group) -> float:
    """The probability that any fault of a group is there."""
    items = sorted(group.items)
    named = posterior.there[:, items].any(axis=1) | np.array([bool(group.cuts & cuts) for cuts in posterior.cuts])
    none = np.where(posterior.hidden[:, items], 1 / (1 + np.exp(component.odds[items])), 1.0).prod(axis=1)
    if group.place is not None:
        none = none * (1 - (posterior.stuck if group.stuck else posterior.dead)[:, group.place])
    return min(float(posterior.probability @ np.where(named, 1.0, 1 - none)), 1.0)
