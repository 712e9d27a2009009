"""Explanations and suspects of a machine with marks alone, in the shapes that callers see."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from math import comb
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.observations import DARK, LIT
from matrixcheck.diagnosis.explanation.ambiguity_groups import likeliest_first
from matrixcheck.diagnosis.explanation.explanations import MOST, MOST_PRIVATE
from matrixcheck.diagnosis.explanation.mark_explanations import Group, Own, Posterior, Story, chance_of, own_causes
from matrixcheck.diagnosis.explanation.mark_ways import code_of
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Fittings, Shares
from matrixcheck.diagnosis.forward.fault_effects import Fitting
from matrixcheck.diagnosis.inference.exact.cell_likelihood import EXERCISED, RESTING, private_chances
from matrixcheck.diagnosis.inference.exact.cell_states import GLOWS, NOT, ON
from matrixcheck.diagnosis.inference.exact.components import Component
from matrixcheck.diagnosis.inference.exact.problem import Problem
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Ints, States
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.diagnosis.result import Explanation, FaultClass, Suspect
from matrixcheck.diagnosis.words.sentences import suspect_sentence
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

AMPLY = 3.0
"""Explanations after the first are told if they are so many times as likely as all that is missing."""


class Part(NamedTuple):
    """A component with what was found in it."""

    component: Component
    posterior: Posterior
    stories: tuple[Story, ...]


class Answer(NamedTuple):
    """Explanations, best first, their suspects, how each one's probability spreads over its members, and how these were
    fitted."""

    explanations: tuple[Explanation, ...]
    suspects: tuple[Suspect, ...]
    shares: Shares
    fitted: Fitted


def tell(
    problem: Problem, parts: Sequence[Part], readings: Sequence[Reading], rates: Rates, *, missing: float, idle: float
) -> Answer:
    """The likeliest explanations of all components at once, those left out that are no likelier than all that is
    missing. `idle`: what faults that no mark speaks for weigh beside any of them."""
    return _Telling(problem, parts, readings, rates).answer(missing, 1 / (1 + idle))


class _Telling:
    def __init__(self, problem: Problem, parts: Sequence[Part], readings: Sequence[Reading], rates: Rates) -> None:
        self.problem = problem
        self.parts = parts
        self.heard: dict[CellKey, list[Reading]] = {}
        for reading in readings:
            if reading.cell is not None:
                self.heard.setdefault(reading.cell, []).append(reading)
        self.rates = rates
        self.layout = problem.machine.layout
        self.tested = {problem.machine.cells[cell] for cell in np.flatnonzero(problem.marks.tested)}
        self.suspects: dict[tuple[Candidate, ...], Suspect] = {}
        self.shares: dict[str, tuple[float, ...]] = {}
        self.fitted: dict[str, Fittings] = {}

    def answer(self, missing: float, certain: float) -> Answer:
        told: list[tuple[float, tuple[Story, ...]]] = [(certain, ())]
        for part in self.parts:
            longer = [(chance * story.probability, (*picks, story)) for chance, picks in told for story in part.stories]
            told = sorted(longer, key=lambda each: -each[0])[:MOST]
        told = [told[0], *(each for each in told[1:] if each[0] > missing * AMPLY)]
        background = self._background()
        explanations = [
            Explanation(probability=min(chance, 1.0), suspects=self._suspects_of(picks, background))
            for chance, picks in told
        ]
        return Answer(tuple(explanations), tuple(self.suspects.values()), self.shares, self.fitted)

    def _suspects_of(self, picks: Sequence[Story], background: Sequence[Own]) -> tuple[str, ...]:
        """The suspects of an explanation: what is shared, then the cells that call loudest for a cause of their own."""
        each = [
            (strength, partial(self._named, part, story, group), group.place is None)
            for part, story in zip(self.parts, picks, strict=True)
            for group, strength in zip(story.groups, story.strength, strict=True)
        ]
        own = [(strength, name) for strength, name, is_shared in each if not is_shared]
        own += [(one.strength, partial(self._by_itself, one)) for one in background]
        loudest = sorted(own, key=lambda entry: -entry[0])[:MOST_PRIVATE]
        return (*(name() for _, name, is_shared in each if is_shared), *(name() for _, name in loudest))

    def _background(self) -> list[Own]:
        """The cells on which no shared fault bears that call for causes of their own; `place` is the machine's."""
        problem = self.problem
        alone = problem.marks.tested.copy()
        for part in self.parts:
            alone[part.component.cells] = False
        cells = np.flatnonzero(alone)
        found = own_causes(problem, cells, problem.base[cells])[:MOST_PRIVATE]
        return [one._replace(place=int(cells[one.place])) for one in found]

    def _by_itself(self, own: Own) -> str:
        problem = self.problem
        members, fittings = likeliest_first(self._own_members(own.place, own.stuck))
        if members in self.suspects:
            return self.suspects[members].id
        cells = np.array([own.place])
        chances = private_chances(problem.weights, cells, problem.base[cells], problem.dead, problem.stuck)
        cell = problem.machine.cells[own.place]
        return self._suspect(members, fittings, float(chances[own.stuck][0]), (cell,), ())

    def _named(self, part: Part, story: Story, group: Group) -> str:
        members, fittings = likeliest_first(self._members(part.component, group))
        if members in self.suspects:
            return self.suspects[members].id
        explains, contradicts = self._account(part.component, story, group)
        chance = chance_of(part.component, part.posterior, group)
        return self._suspect(members, fittings, chance, explains, contradicts)

    def _suspect(
        self,
        members: tuple[Candidate, ...],
        fittings: Fittings,
        chance: float,
        explains: tuple[CellKey, ...],
        contradicts: tuple[CellKey, ...],
    ) -> str:
        reach = {cell for member in members for cell in member.cells}
        untested = tuple(sorted(reach - self.tested))
        name = f"s{len(self.suspects) + 1}"
        faults = tuple(member.fault for member in members)
        heard = [reading for cell in reach for reading in self.heard.get(cell, ())]
        says = suspect_sentence(self.layout, faults, explains, contradicts, untested, readings=heard)
        self.suspects[members] = Suspect(
            id=name,
            probability=chance,
            members=faults,
            explains=explains,
            contradicts=contradicts,
            untested=untested,
            says=says,
        )
        total = sum(member.rate for member in members) or 1.0
        self.shares[name] = tuple(chance * member.rate / total for member in members)
        self.fitted[name] = fittings
        return name

    def _members(self, component: Component, group: Group) -> Iterator[tuple[Candidate, Fitting]]:
        for item in sorted(group.items):
            for source in component.members[item]:
                yield from self._of_source(source)
        for number, places in group.cuts:
            lost = [int(component.cells[place]) for place in places]
            yield from self._breaks(component.loose[number].number, lost)
        if group.place is not None:
            yield from self._own_members(int(component.cells[group.place]), group.stuck)

    def _of_source(self, number: int) -> Iterator[tuple[Candidate, Fitting]]:
        source = self.problem.sources[number]
        for member in source.members:
            whole = self.problem.machine.completed(member) if member.lines else member
            yield whole, source.fitting(member)

    def _own_members(self, cell: int, stuck: bool) -> Iterator[tuple[Candidate, Fitting]]:
        """What shows as this one cell dead, or stuck."""
        problem, machine = self.problem, self.problem.machine
        key = machine.cells[cell]
        matrix = self.layout.matrix(key.matrix)
        chances = self.rates.cell[matrix.kind.value]
        classes = (FaultClass.DEVICE_STUCK,) if stuck else _DEAD_CLASSES
        for one in classes:
            if matrix.has_diodes or not one.startswith("diode"):
                yield Candidate(one, None, (), (key,), rate=chances[one]), Fitting()
        for source in problem.own.of(cell, stuck):
            yield from self._of_source(source)
        if not stuck:
            for number, unknown in enumerate(problem.unknown):
                if cell in machine.cells_of((unknown.line, 0, 0)):
                    yield from self._breaks(number, [cell])

    def _breaks(self, number: int, lost: Sequence[int]) -> Iterator[tuple[Candidate, Fitting]]:
        """The breaks of an unknown chain that take these tested cells, one for each count of cells before them. Which
        untested ones go with them is told where it is all of them."""
        machine, unknown = self.problem.machine, self.problem.unknown[number]
        cells = machine.cells_of((unknown.line, 0, 0))
        hidden = cells[~self.problem.marks.tested[cells]].tolist()
        count = len(cells)
        for besides in range(len(hidden) + 1):
            size = len(lost) + besides
            if size < count:
                rate = unknown.rate / (count - 1) * comb(len(hidden), besides) / comb(count, size)
                gone = [*lost, *hidden] if besides == len(hidden) else lost
                keys = tuple(sorted(machine.cells[cell] for cell in gone))
                line = machine.lines[unknown.line]
                yield Candidate(FaultClass.BREAK, None, (line,), keys, count - size, rate=rate), Fitting()

    def _account(
        self, component: Component, story: Story, group: Group
    ) -> tuple[tuple[CellKey, ...], tuple[CellKey, ...]]:
        """The cells that a suspect accounts for, and those that speak against it: marks that are as they should be with
        it and not without it, and the other way about."""
        at = story.groups.index(group)
        own = [Own(one.place, one.stuck, 0.0) for one in story.groups if one.place is not None and one is not group]
        shared = [*(((item,), ()) for item in story.way.items), *(((), (cut,)) for cut in story.way.cuts)]
        others = [part for other, part in enumerate(shared) if other != at]
        code = code_of(component, [i for items, _ in others for i in items], [c for _, cuts in others for c in cuts])
        mine = [] if group.place is None else [Own(group.place, group.stuck, 0.0)]
        there = self._right(component, story.way.code, [*own, *mine])
        gone = self._right(component, code, own)
        better, worse = (there & ~gone).any(axis=1), (gone & ~there).any(axis=1) & ~(there & ~gone).any(axis=1)
        keys = self.problem.machine.cells
        explains, contradicts = (
            tuple(sorted(keys[component.cells[place]] for place in np.flatnonzero(which))) for which in (better, worse)
        )
        return explains, contradicts

    def _right(self, component: Component, code: Ints, own: Sequence[Own]) -> Bools:
        """[place, exercised or at rest]: whether what would show is what was seen."""
        states = component.states[np.arange(len(code)), code]
        shows = np.stack([EXERCISED[states], RESTING[states]], axis=1)
        for one in own:
            shows[one.place] = ON if one.stuck else NOT
        seen: States = self.problem.marks.seen[component.cells]
        right: Bools = ((shows == NOT) & (seen == DARK)) | ((shows == ON) & (seen == LIT))
        right |= (shows == GLOWS) & (seen == LIT)
        right[~self.problem.marks.tested[component.cells]] = False
        return right


_DEAD_CLASSES = (FaultClass.DEVICE_DEAD, FaultClass.DIODE_OPEN, FaultClass.DIODE_REVERSED)
