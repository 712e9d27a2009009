"""Word what to do next in test mode, and which cards it narrows."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.result import Fault, NextTest
from matrixcheck.report.answer.model import Card, NextStep
from matrixcheck.report.answer.ranking import Ranking


def next_steps(ranking: Ranking, cards: Sequence[Card]) -> tuple[NextStep, ...]:
    """Return the tests in their order, each once."""
    found: dict[str, NextStep] = {}
    for test in ranking.diagnosis.next:
        what, _, outcomes = test.says.partition(". ")
        if test.held and not test.gain:
            what, outcomes = outcomes, what
        narrows = _narrows(ranking, test, cards)
        step = NextStep(
            words=f"{what[:1].lower()}{what[1:].rstrip('.')}",
            matrix=test.matrix,
            cell=str(test.cell) if test.cell else None,
            held=tuple(map(str, test.held)),
            narrows=narrows,
            outcomes=outcomes,
        )
        found.setdefault(step.words, step)
    return tuple(found.values())


def _narrows(ranking: Ranking, test: NextTest, cards: Sequence[Card]) -> tuple[int, ...]:
    """Return the cards whose faults the test of a cell parts: some take hold of it and others don't."""
    if test.cell is None or not test.gain:
        return ()
    found = []
    for card in cards:
        if card.suspect:
            members = ranking.diagnosis.suspect(card.suspect).members
            if len({_touches(fault, test) for fault in members}) > 1:
                found.append(card.number)
    return tuple(found)


def _touches(fault: Fault, test: NextTest) -> tuple[bool, bool]:
    between = fault.other is not None or len({line.place for line in fault.lines}) > 1
    return test.cell in fault.cells, between
