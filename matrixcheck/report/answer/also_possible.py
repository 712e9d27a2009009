"""Say in a line each what may be there instead of some of the cards."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.result import Explanation, Suspect
from matrixcheck.layout.model import Layout
from matrixcheck.report.answer.model import AlsoPossible, Card
from matrixcheck.report.answer.ranking import Ranking
from matrixcheck.report.answer.titles import brief_title, titled

ROOM = 57
"""Characters of such a line without its label and probability, as it stands in 78 columns."""
MOST = 3
"""Lines: what is less likely than these nobody acts on."""


def also_possible(layout: Layout, ranking: Ranking, cards: Sequence[Card]) -> tuple[AlsoPossible, ...]:
    """Return what other explanations say otherwise than the best, likeliest first, none twice."""
    found: dict[str, AlsoPossible] = {}
    for explanation in ranking.sets[1:]:
        one = _difference(layout, ranking, explanation, cards)
        if one is not None:
            found.setdefault(one.words, one)
    return tuple(found.values())[:MOST]


def _difference(
    layout: Layout, ranking: Ranking, explanation: Explanation, cards: Sequence[Card]
) -> AlsoPossible | None:
    """Return how an explanation differs from the cards; None where it says the same in other words."""
    best = ranking.sets[0].suspects
    numbers = {card.suspect: card.number for card in cards}
    left_out = [name for name in best if name not in explanation.suspects]
    added = [ranking.diagnosis.suspect(name) for name in explanation.suspects if name not in best]
    titles = {card.title for card in cards}
    others = {
        one.title: brief_title(layout, one.lead) for each in added if (one := titled(layout, each)).title not in titles
    }
    faults, brief = tuple(others), tuple(dict.fromkeys(others.values()))
    instead_of = tuple(sorted(numbers[name] for name in left_out if not _stands(ranking, name, added)))
    if not faults and not instead_of:
        return None
    return AlsoPossible(
        probability=explanation.probability,
        instead_of=instead_of,
        words=_words(instead_of, brief),
        faults=faults,
    )


def _stands(ranking: Ranking, name: str, added: Sequence[Suspect]) -> bool:
    """Return whether a card's faults are all there under another suspect: the same thing in other clothes."""
    members = set(ranking.diagnosis.suspect(name).members)
    return any(members <= set(one.members) or set(one.members) <= members for one in added)


def _words(instead_of: Sequence[int], faults: Sequence[str]) -> str:
    which = f"instead of {_numbers(instead_of)}" if instead_of else "besides"
    if not faults:
        return f"without {_numbers(instead_of)}: a wrong mark"
    for count in range(len(faults), 1, -1):
        left = len(faults) - count
        words = f"{which}: {', '.join(faults[:count])}{f' and {left} more' if left else ''}"
        if len(words) <= ROOM:
            return words
    return f"{which}: {faults[0]}{f' and {len(faults) - 1} more' if len(faults) > 1 else ''}"


def _numbers(numbers: Sequence[int]) -> str:
    *first, last = map(str, numbers)
    return f"{', '.join(first)} and {last}" if first else last
