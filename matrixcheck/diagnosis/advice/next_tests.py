"""Rank what to exercise next by its expected information about the cause of what was seen.

The gain of an exercise is the expected drop of the entropy of the cause, in bits, over the explanations that are left
(mutual information of outcome and cause), with the exercised cell judged wrongly one time in a hundred. The greatest
gain comes first. Where no exercise distinguishes causes, untested lines come by coverage, with no gain.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterator, Mapping, Sequence
from functools import cache
from heapq import heappop, heappush, merge
from itertools import islice
from math import log2, prod
from typing import Any, NamedTuple

from matrixcheck.diagnosis.advice.coverage import covering, hold_tests, is_at_hand, rest_scans
from matrixcheck.diagnosis.advice.hold_rounds import HoldRound
from matrixcheck.diagnosis.advice.lookahead import LOOKED_AT, left_after_two
from matrixcheck.diagnosis.explanation.member_weights import USUAL_ONLY, Fitted, Shares, spread
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Setting, joint
from matrixcheck.diagnosis.machine.fault_classes import ODD_DIODE, SILENT_UNFED
from matrixcheck.diagnosis.result import Explanation, Fault, FaultClass, NextTest, Suspect
from matrixcheck.diagnosis.words.clauses import brief_words
from matrixcheck.diagnosis.words.places import numbers_words
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.layout.wording import cell_words

MOST_WEIGHED, MOST_EXERCISED, LEAST_SHARE = 120, 24, 1e-3
"""In matrices of more cells than the first, so many are weighed: those that the causes disagree on most, if at all."""

LEAST_WAY = 0.003
"""Ways less likely than this share of the likeliest change no gain worth naming."""

LEAST_GAIN = 0.01
"""Bits below which an exercise isn't worth the walk: a hundredth of what settles an even choice."""


class Outcome(NamedTuple):
    """Say what an exercise would show.

    `answers`: the exercised cell does. `others`, `faint`, `missing`: against a healthy machine, the other cells that
    answer, that glow, and that are missing.
    """

    answers: bool
    others: frozenset[CellKey] = frozenset()
    faint: frozenset[CellKey] = frozenset()
    missing: frozenset[CellKey] = frozenset()


class Hypothesis(NamedTuple):
    """Hold one way the machine may be, with its weight.

    `faults`: all that are there. `cause`: those that explain something seen, in `setting`. A fault that comes and goes
    explains, but need not be there.
    """

    weight: float
    faults: tuple[Fault, ...]
    cause: tuple[Fault, ...]
    setting: Setting = USUAL


class Exercise(NamedTuple):
    """Name one thing to do in test mode: exercise `cell` (None for a rest scan) while `held` are kept closed."""

    matrix: str
    cell: CellKey | None
    held: tuple[CellKey, ...] = ()


Predict = Callable[[tuple[Fault, ...], Sequence[Exercise], Setting], Sequence[Outcome]]
"""From a set of faults, exercises, and what the layout doesn't say: one outcome an exercise."""


class _Choice(NamedTuple):
    """Hold one member of a suspect: its share, the setting in which it was fitted, and whether it is there."""

    share: float
    fault: Fault
    setting: Setting
    there: bool


def hypotheses(
    explanations: Sequence[Explanation],
    suspects: Sequence[Suspect],
    shares: Shares | None = None,
    *,
    fitted: Fitted | None = None,
    limit: int = 64,
    large: Collection[str] = (),
) -> tuple[Hypothesis, ...]:
    """Return the likeliest hypotheses: each explanation with one member of each of its suspects, likeliest first.

    `shares[id]` weighs a suspect's members against each other; they weigh the same where it is not given. `fitted[id]`
    are the settings in which each explains what was seen, and still holds. A loose one is there in half of the
    hypotheses. Members that no untested cell distinguishes stand as one; in `large` matrices reversed diodes stand with
    the open ones, as evaluating their bypasses takes long.
    """
    known = {suspect.id: suspect for suspect in suspects}
    choices = {suspect.id: _choices(suspect, shares or {}, fitted or {}, large) for suspect in suspects}
    ways = (_ways(explanation, known, choices) for explanation in explanations)
    likeliest_first = list(islice(merge(*ways, key=lambda way: -way.weight), limit))
    return tuple(way for way in likeliest_first if way.weight >= likeliest_first[0].weight * LEAST_WAY)


def next_tests(
    layout: Layout,
    readings: Sequence[Reading],
    ways: Sequence[Hypothesis],
    predict: Predict,
    *,
    holds: Sequence[HoldRound] = (),
    wrong: float,
    limit: int = 5,
) -> tuple[NextTest, ...]:
    """Return up to `limit` things to do in test mode, the most informative first.

    Cells of the matrices with causes are weighed by gain. Then come, without one: a rest scan where none was made,
    cells that cover lines without a tested cell, and the rounds of `holds`, of which one is named in any case where
    there is room for anything without gain.

    `wrong`: the chance that the exercised cell is judged wrongly.
    """
    found = _informative(layout, readings, ways, predict, holds, wrong=wrong, limit=limit)
    named = {(test.matrix, test.cell, test.held) for test in found}
    covers = [
        test
        for test in (*rest_scans(layout, readings), *covering(layout, readings))
        if (test.matrix, test.cell, test.held) not in named
    ]
    held = list(hold_tests(layout, holds))
    room = max(0, limit - len(found))
    return (*found[:limit], *[*covers[: room - bool(held)], *held][:room])


def gain(weights: Sequence[float], causes: Sequence[Hashable], outcomes: Sequence[Outcome], wrong: float) -> float:
    """Return the expected drop in bits of the entropy of the cause, from observing the outcome of one exercise.

    One weight, cause and predicted outcome a hypothesis; `wrong` is the chance that the exercised cell's own answer is
    taken for its opposite.
    """
    total = sum(weights)
    joint: dict[tuple[Hashable, Outcome], float] = {}
    for weight, cause, outcome in zip(weights, causes, outcomes, strict=True):
        joint[cause, outcome] = joint.get((cause, outcome), 0.0) + weight / total
    by_cause: dict[Hashable, float] = {}
    by_outcome: dict[Outcome, float] = {}
    by_both: dict[tuple[Hashable, Outcome], float] = {}
    for (cause, outcome), share in joint.items():
        by_cause[cause] = by_cause.get(cause, 0.0) + share
        for observed, chance in ((outcome, 1 - wrong), (Outcome(not outcome[0], *outcome[1:]), wrong)):
            by_outcome[observed] = by_outcome.get(observed, 0.0) + share * chance
            by_both[cause, observed] = by_both.get((cause, observed), 0.0) + share * chance
    return max(0.0, _entropy(by_cause) + _entropy(by_outcome) - _entropy(by_both))


def _looking_ahead(
    order: list[int], weights: Sequence[float], causes: Sequence[int], outcomes: Sequence[Sequence[Outcome]]
) -> list[int]:
    """Return the order with the first few by what is left after the best test that follows each."""
    first = order[:LOOKED_AT]
    if len(first) < 2:
        return order
    left = dict(zip(first, left_after_two(weights, causes, outcomes, first), strict=True))
    return [*sorted(first, key=lambda place: round(left[place], 2)), *order[LOOKED_AT:]]


def _entropy(chances: Mapping[Any, float]) -> float:
    return -sum(chance * log2(chance) for chance in chances.values() if chance > 0)


def _informative(
    layout: Layout,
    readings: Sequence[Reading],
    ways: Sequence[Hypothesis],
    predict: Predict,
    holds: Sequence[HoldRound],
    *,
    wrong: float,
    limit: int,
) -> list[NextTest]:
    """Return the exercises that distinguish causes: most gain, then untested, near, and earlier in the walk first."""
    if len({way.cause for way in ways}) < 2:
        return []
    exercises = _exercises(layout, readings, ways, holds)
    outcomes = list(zip(*(predict(way.faults, exercises, way.setting) for way in ways), strict=True))
    weights = [way.weight for way in ways]
    places = {cause: place for place, cause in enumerate(dict.fromkeys(way.cause for way in ways))}
    causes = [places[way.cause] for way in ways]

    @cache
    def gained(row: tuple[Outcome, ...], mistaken: float) -> float:
        return gain(weights, causes, row, mistaken)

    gains = [
        0.0 if _all_alike(row) else gained(row, wrong if exercise.cell else 0.0)
        for exercise, row in zip(exercises, outcomes, strict=True)
    ]
    tested = {reading.cell for reading in readings}

    def rank(place: int) -> tuple[float, bool, bool, int]:
        cell = exercises[place].cell
        near = cell is None or is_at_hand(layout.cell(cell))
        return -round(gains[place], 2), cell in tested, not near, place

    order = [place for place in sorted(range(len(exercises)), key=rank) if gains[place] >= LEAST_GAIN]
    order = _looking_ahead(order, weights, causes, outcomes)
    worded = ((place, exercise_words(layout, exercises[place], ways, outcomes[place])) for place in order)
    return [
        NextTest(
            matrix=exercises[place].matrix,
            cell=exercises[place].cell,
            held=exercises[place].held,
            gain=gains[place],
            says=says,
        )
        for place, says in islice(((place, says) for place, says in worded if says), limit)
    ]


def _all_alike(outcomes: Sequence[Outcome]) -> bool:
    """Return whether all outcomes are the same, so that the exercise says nothing."""
    first = outcomes[0]
    return all(outcome is first or outcome == first for outcome in outcomes)


def _exercises(
    layout: Layout, readings: Sequence[Reading], ways: Sequence[Hypothesis], holds: Sequence[HoldRound]
) -> list[Exercise]:
    """Return what can be done in the matrices with causes: a rest scan, each cell by walk, and held exercises.

    Hold rounds add those cells whose diode is suspected.
    """
    causes = {fault for way in ways for fault in way.cause}
    concerned = {cell.matrix for fault in causes for cell in fault.cells}
    looked = {reading.matrix for reading in readings if reading.cell is None}
    found: list[Exercise] = []
    for matrix in layout.matrices:
        if matrix.id in concerned:
            found += [Exercise(matrix.id, None)] if matrix.id not in looked else []
            found += [Exercise(matrix.id, cell) for cell in _cells_to_weigh(matrix, readings, ways)]
    hidden = {cell for fault in causes if fault.fault in ODD_DIODE for cell in fault.cells}
    found += [Exercise(cell.matrix, cell, each.held) for each in holds for cell in each.exposes if cell in hidden]
    return found


def _cells_to_weigh(matrix: Matrix, readings: Sequence[Reading], ways: Sequence[Hypothesis]) -> list[CellKey]:
    """Return all cells of a matrix in its walk's order; of a large one those on which hypotheses disagree most."""
    cells = [cell.key for cell in matrix.in_walk_order]
    if len(cells) <= MOST_WEIGHED:
        return cells
    taken: dict[CellKey, float] = {}
    for way in ways:
        for cell in {cell for fault in way.faults for cell in fault.cells if cell.matrix == matrix.id}:
            taken[cell] = taken.get(cell, 0.0) + way.weight
    total = sum(way.weight for way in ways)
    tested = {reading.cell for reading in readings}
    open_ones = [cell for cell in cells if LEAST_SHARE < taken.get(cell, 0.0) / total < 1 - LEAST_SHARE]
    return sorted(open_ones, key=lambda cell: (round(abs(taken[cell] / total - 0.5), 3), cell in tested))[
        :MOST_EXERCISED
    ]


def _choices(suspect: Suspect, shares: Shares, fitted: Fitted, large: Collection[str]) -> list[_Choice]:
    """Return members with their share of the suspect, likeliest first; those of one effect merged."""
    merged: dict[object, _Choice] = {}
    fittings = fitted.get(suspect.id) or (USUAL_ONLY,) * len(suspect.members)
    for share, fault, ways in zip(spread(suspect, shares), suspect.members, fittings, strict=True):
        loses = fault.fault in SILENT_UNFED
        loses = loses or (fault.fault is FaultClass.DIODE_REVERSED and fault.cells[0].matrix in large)
        states = [(way, there) for way in ways for there in ((True, False) if way.loose else (True,))]
        for way, there in states:
            taken = fault.cells if loses else fault, way, there
            before = merged.get(taken, _Choice(0.0, fault, way.setting, there))
            merged[taken] = before._replace(share=before.share + share / len(states))
    return sorted(merged.values(), key=lambda choice: -choice.share)


def _ways(
    explanation: Explanation, known: dict[str, Suspect], choices: dict[str, list[_Choice]]
) -> Iterator[Hypothesis]:
    """Yield the explanation with every choice of members, likeliest first."""
    sides = [choices[each] for each in explanation.suspects]
    explaining = [bool(known[each].explains) for each in explanation.suspects]
    queue = [_way_at(explanation.probability, sides, (0,) * len(sides))]
    queued = {queue[0][1]}
    while queue:
        weight, picks = heappop(queue)
        chosen = [side[pick] for side, pick in zip(sides, picks, strict=True)]
        cause = tuple(choice.fault for choice, explains in zip(chosen, explaining, strict=True) if explains)
        faults = tuple(choice.fault for choice in chosen if choice.there)
        yield Hypothesis(-weight, faults, cause, joint(choice.setting for choice in chosen))
        for place, pick in enumerate(picks):
            step = (*picks[:place], pick + 1, *picks[place + 1 :])
            if pick + 1 < len(sides[place]) and step not in queued:
                queued.add(step)
                heappush(queue, _way_at(explanation.probability, sides, step))


def _way_at(
    probability: float, sides: Sequence[Sequence[_Choice]], picks: tuple[int, ...]
) -> tuple[float, tuple[int, ...]]:
    """Return the weight of one choice of members, negated for the heap, and the choice."""
    return -probability * prod(side[pick].share for side, pick in zip(sides, picks, strict=True)), picks


_DO = {"switch": "Press", "lamp": "Light", "flash lamp": "Flash", "coil": "Fire"}


def exercise_words(layout: Layout, exercise: Exercise, ways: Sequence[Hypothesis], outcomes: Sequence[Outcome]) -> str:
    """Word what to do, and the likeliest cause after each of two outcomes with different causes.

    The likeliest outcome comes first. Empty where all outcomes look or mean the same.
    """
    chances: dict[Outcome, float] = {}
    for way, outcome in zip(ways, outcomes, strict=True):
        chances[outcome] = chances.get(outcome, 0.0) + way.weight
    first, *others = sorted(chances, key=lambda outcome: -chances[outcome])
    cause = _likeliest(ways, outcomes, first)
    for other in others:
        shown = _outcome_words(layout, exercise, first, other), _outcome_words(layout, exercise, other, first)
        against = _likeliest(ways, outcomes, other)
        causes = _cause_words(layout, cause, against), _cause_words(layout, against, cause)
        if shown[0] != shown[1] and causes[0] != causes[1]:
            return f"{_todo(layout, exercise)}. {shown[0]}: {causes[0]}. {shown[1]}: {causes[1]}."
    return ""


def _todo(layout: Layout, exercise: Exercise) -> str:
    if exercise.cell is None:
        return "Look at rest, with nothing exercised"
    todo = f"{_DO[layout.cell(exercise.cell).device]} {cell_words(layout, exercise.cell)}"
    return todo + (f" with {numbers_words(layout, exercise.held, 'and')} held" if exercise.held else "")


def _outcome_words(layout: Layout, exercise: Exercise, outcome: Outcome, against: Outcome) -> str:
    """Word one outcome by what distinguishes it from another."""
    at_rest = exercise.cell is None
    signs = (
        (outcome.others, against.others, "shows" if at_rest else f"answers {'too' if outcome.answers else 'instead'}"),
        (outcome.missing, against.missing, "is missing" if at_rest else "drops out"),
        (outcome.faint, against.faint, "glows faintly"),
    )
    here = [f"{cell_words(layout, min(cells - others))} {shows}" for cells, others, shows in signs if cells - others]
    there = [min(others - cells) for cells, others, _ in signs if others - cells]
    if outcome.answers != against.answers and not outcome.others - against.others:
        if outcome.faint and not outcome.answers:
            return "If only a faint glow is seen"
        return "If it answers" if outcome.answers else "If it stays dead"
    if here:
        return f"If {here[0]}"
    if any(cells for cells, _, _ in signs) and there:
        return f"If {cell_words(layout, there[0])} doesn't"
    return "If all is as it should be" if at_rest else "If it answers" if outcome.answers else "If it stays dead"


def _likeliest(ways: Sequence[Hypothesis], outcomes: Sequence[Outcome], observed: Outcome) -> tuple[Fault, ...]:
    """Return the cause with the most weight among the hypotheses that give the outcome."""
    weights: dict[tuple[Fault, ...], float] = {}
    for way, outcome in zip(ways, outcomes, strict=True):
        if outcome == observed:
            weights[way.cause] = weights.get(way.cause, 0.0) + way.weight
    return max(weights, key=lambda each: weights[each])


def _cause_words(layout: Layout, cause: Sequence[Fault], against: Sequence[Fault]) -> str:
    """Word what of a cause is not in another one."""
    words = [brief_words(layout, fault) for fault in cause if fault not in against]
    return " and ".join(words) or ("nothing more" if cause else "no shared fault")
