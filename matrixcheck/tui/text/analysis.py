"""Make the answer of a job ready for the screens.

It is called beside the analysis, off the event loop, and imported there: the analyser is the one heavy import of the
program, and no screen waits for it.
"""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.diagnosis.result import Diagnosis, Suspect
from matrixcheck.diagnosis.words.sentences import percent
from matrixcheck.report.answer.model import Answer, Card
from matrixcheck.report.answer.ranking import ranked
from matrixcheck.report.answer.text import first_words, repairs_words, step_words, sure_words, where_words
from matrixcheck.tui.text.suspects import Analysis, Listed


def analysis_of(diagnosis: Diagnosis, answer: Answer) -> Analysis:
    """Return the cards of an answer, with what stands above and below them."""
    merged = ranked(diagnosis).diagnosis
    known = {suspect.id: suspect for suspect in merged.suspects}
    return Analysis(
        merged,
        answer.danger,
        answer.unfinished,
        answer.headline,
        tuple(_listed(card, known.get(card.suspect)) for card in answer.cards),
        tuple(_below(answer)),
        answer,
    )


def _listed(card: Card, suspect: Suspect | None) -> Listed:
    return Listed(suspect, card.number, card.title, sure_words(card), said(card), card.dangerous, card.matrices)


def said(card: Card) -> tuple[str, ...]:
    """Return what a card says below its title, a paragraph each."""
    first = first_words(card.first, card.more_checks)
    where = where_words(card.where)
    why = f"{sure_words(card)}: {card.why}" if card.why and not _waits(card) else sure_words(card)
    known = (*card.known, *repairs_words(card))
    return tuple(filter(None, [why, *known, where and f"where: {where}", first and f"first: {first}"]))


def _waits(card: Card) -> bool:
    """Return whether a card is of a repair of which nothing was tested again yet: how it stands says it all."""
    return card.kind == "repair" and card.repairs[0].passed + card.repairs[0].failed == 0


def _below(answer: Answer) -> Sequence[str]:
    """Return what follows the cards, a paragraph each."""
    also = [f"also possible {percent(one.probability)}: {one.words}" for one in answer.also_possible]
    left = "; ".join(answer.left_open)
    steps = [f"next test: {step_words(step.words, step.narrows)}" for step in answer.next[:1]]
    rates = answer.rates and f"rates: {answer.rates}"
    return [*also, *steps, *filter(None, [left and f"left open: {left}", rates])]
