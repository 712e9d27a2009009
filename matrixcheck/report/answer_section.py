"""The answer in a report: its headline, its cards, what is also possible, and what is left open."""

from __future__ import annotations

from matrixcheck.diagnosis.words.sentences import percent
from matrixcheck.report.answer.model import Answer, Card
from matrixcheck.report.answer.text import first_words, repairs_words, step_words, sure_words, where_words
from matrixcheck.report.document import Block, CardBlock, Points, Section, Sentence

PLACES = 12
"""Places that a card of the report names: paper has room for more than a screen."""


def answer_section(answer: Answer) -> Section:
    """Return the answer as a section; empty while nothing but the danger may be said."""
    said = " ".join(filter(None, [answer.unfinished, *answer.headline]))
    blocks: list[Block] = [Sentence(said)] if said else []
    blocks += map(card_block, answer.cards)
    also = tuple(f"{percent(one.probability)} {one.words}." for one in answer.also_possible)
    if also:
        blocks.append(Points(also, lead="Also possible:"))
    steps = tuple(f"{step_words(one.words, one.narrows)}." for one in answer.next[:1])
    blocks += [Sentence(f"Next test: {step}") for step in steps]
    if answer.left_open:
        blocks.append(Sentence(f"Left open: {'; '.join(answer.left_open)}"))
    if answer.rates:
        blocks.append(Sentence(f"Rates: {answer.rates}."))
    return Section("What is wrong", tuple(blocks))


def card_block(card: Card) -> CardBlock:
    """Return a card with its facts; those that it lacks are left out."""
    facts = (
        ("why", card.why),
        ("where", where_words(card.where, PLACES)),
        ("first", first_words(card.first, card.more_checks)),
        ("known", "; ".join(card.known)),
        ("repair", "; ".join(repairs_words(card))),
    )
    return CardBlock(
        f"{card.number}  {card.title}",
        sure_words(card),
        tuple((name, says) for name, says in facts if says),
        card.dangerous,
    )
