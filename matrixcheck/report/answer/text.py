"""An answer as lines of text of a given width."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.diagnosis.words.sentences import WORTH_SAYING, percent
from matrixcheck.report.answer.model import Answer, Card, FirstCheck, Place, Stands
from matrixcheck.report.words import lines_of

MOST_PLACES = 4
"""Places that a card names before it only counts the rest."""
LABEL = 10
WIDE_LABEL = 16


class Line(NamedTuple):
    """A line of text; strong ones are headings."""

    text: str
    strong: bool = False


def answer_lines(answer: Answer, width: int, job: str = "") -> tuple[Line, ...]:
    """Return danger, headline, cards, what else is possible, the next test, and what stays open.

    `job`: name the command that lists the checks of this job, where there are more than the cards say.
    """
    found = list(top_lines(answer, width))
    if answer.stop:
        return tuple(found)
    found += [Line("")] if answer.cards else []
    for card in answer.cards:
        found += card_lines(card, width)
    tail = tail_lines(answer, width, job)
    return (*found, *([Line("")] if tail else []), *tail)


def top_lines(answer: Answer, width: int) -> tuple[Line, ...]:
    """Return what comes before the cards: any danger, then the headline."""
    danger = [*lines_of(answer.danger, width), *([""] if answer.danger and answer.headline else [])]
    headline = [*filter(None, [answer.unfinished]), *answer.headline]
    return tuple(Line(text, True) for text in (*danger, *_wrapped(headline, width)))


def title_lines(answer: Answer, width: int) -> tuple[Line, ...]:
    """Return any danger, the headline, and of each card only its title, how sure it is, and how its repairs stand."""
    found = list(top_lines(answer, width))
    for card in answer.cards:
        found += [Line(line.text) for line in head_lines(card, width)]
        found += [Line(text) for words in repairs_words(card) for text in labelled("", words, width, 3)]
    return tuple(found)


def head_lines(card: Card, width: int) -> tuple[Line, ...]:
    """Return number, title and how sure a card is, in one line where that fits."""
    head, sure = f"{card.number:<2} {card.title}", sure_words(card)
    if head.endswith(f": {sure}"):
        return tuple(Line(text, True) for text in _hung(head, width))
    room = width - len(sure)
    found = [f"{head:<{room}}{sure}"] if len(head) < room else [*_hung(head, width), f"   {sure}"]
    return tuple(Line(text, True) for text in found)


def card_lines(card: Card, width: int, most: int = MOST_PLACES) -> tuple[Line, ...]:
    """Return a card: title and how sure, why, up to `most` places where to look, what to do first."""
    brief = most == MOST_PLACES
    if brief and card.kind == "repair" and card.repairs[0].stands != "open again":
        return head_lines(card, width)
    if brief and card.kind in ("repair", "no fault"):
        return (*head_lines(card, width), *map(Line, labelled("   why", card.why, width)))
    body = [
        ("why", card.why),
        ("where", where_words(card.where, most)),
        *(("known", words) for words in card.known),
        *(("repair", words) for words in repairs_words(card)),
        ("first", first_words(card.first, card.more_checks)),
    ]
    lines = [line for label, words in body if words for line in labelled(f"   {label}", words, width)]
    return (*head_lines(card, width), *map(Line, lines))


def tail_lines(answer: Answer, width: int, job: str = "") -> tuple[Line, ...]:
    """Return what follows the cards; with a `job`, the command for all its checks as well."""
    more = job and any(card.more_checks for card in answer.cards)
    checks = [f"matrixcheck checks {job}"] if more else []
    also = [f"{percent(one.probability)} {one.words}" for one in answer.also_possible]
    steps = [step_words(step.words, step.narrows) for step in answer.next[:1]]
    left = ["; ".join(answer.left_open)]
    parts = (
        ("also possible", also),
        ("next test", steps),
        ("all checks", checks),
        ("left open", left),
        ("rates", [answer.rates]),
    )
    return wide_lines(parts, width)


def wide_lines(parts: Sequence[tuple[str, Sequence[str]]], width: int) -> tuple[Line, ...]:
    """Return paragraphs under labels; each label stands before the first of its own."""
    found: list[Line] = []
    for label, said in parts:
        for place, words in enumerate(filter(None, said)):
            found += map(Line, labelled("" if place else label, words, width, WIDE_LABEL))
    return tuple(found)


def _wrapped(sentences: Sequence[str], width: int) -> list[str]:
    return [text for sentence in sentences for text in lines_of(sentence, width)]


def _hung(text: str, width: int) -> list[str]:
    return lines_of(text, width, hang="   ")


def sure_words(card: Card) -> str:
    """Return how sure a card is, with the probability unless it is near certain; of a repair how it stands."""
    if card.kind == "no fault":
        return "no fault"
    if card.kind == "repair":
        repair = card.repairs[0]
        return f"retest due, {count_of(repair.due, 'cell')}" if repair.due else STANDS[repair.stands]
    sure = card.sure if card.sure in ("near certain", "recorded") else f"{card.sure}, {percent(card.probability)}"
    return f"{sure}, open again" if any(one.stands == "open again" for one in card.repairs) else sure


STANDS: Mapping[Stands, str] = {
    "open again": "not all pass",
    "closed": "closed",
    "nothing to retest": "done",
}
"""How a repair that waits for no retest stands, in place of how sure its card is."""


def repairs_words(card: Card) -> tuple[str, ...]:
    """Return what a fault's card says of repairs at its places; a repair's own card says it in its title."""
    return () if card.kind == "repair" else tuple(one.words for one in card.repairs)


def where_words(places: Sequence[Place], most: int = MOST_PLACES) -> str:
    """Return the places with their shares, likeliest first; a single one without."""
    if len(places) < 2:
        return "".join(place.words for place in places)
    shown = [f"{percent(place.share)} {place.words}" for place in places[:most] if place.share >= WORTH_SAYING]
    if len(places) > len(shown):
        shown.append(f"{len(places) - len(shown)} more")
    return " · ".join(shown)


def first_words(check: FirstCheck | None, more: int = 0) -> str:
    """Return power state, minutes and what to do first, and how many checks there are besides."""
    if check is None:
        return ""
    state = "POWER ON" if check.power else "power off"
    minutes = f", {check.minutes:g} min" if check.minutes is not None else ""
    return f"{state}{minutes}: {check.short}{f' (+{more} more)' if more else ''}"


def step_words(words: str, narrows: Sequence[int]) -> str:
    """Return a next test and the cards that it narrows."""
    return f"{words}: narrows {' and '.join(map(str, narrows))}" if narrows else words


def labelled(label: str, words: str, width: int, indent: int = LABEL) -> list[str]:
    """Return words in lines, with a label before the first."""
    return lines_of(words, width, f"{label:<{indent}}", " " * indent)
