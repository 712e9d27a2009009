"""An answer, or one card of it, with everything that is behind it, as lines of text."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matrixcheck.diagnosis.result import BenchCheck, Diagnosis
from matrixcheck.diagnosis.words.sentences import percent
from matrixcheck.report.answer.cards import checks_of
from matrixcheck.report.answer.model import AlsoPossible, Answer, Card
from matrixcheck.report.answer.text import Line, card_lines, labelled, step_words, top_lines, wide_lines
from matrixcheck.report.outcomes import outcomes_of

INDENT = 13


def answer_in_full(answer: Answer, diagnosis: Diagnosis, width: int) -> tuple[Line, ...]:
    """Return the whole answer: each card in full, every test that would say something, and what stays open."""
    found = list(top_lines(answer, width))
    if answer.stop:
        return tuple(found)
    for card in answer.cards:
        found += [Line(""), *card_in_full(answer, card, diagnosis, width)]
    besides = [_rival(one) for one in answer.also_possible if not one.instead_of]
    tests = [f"{step_words(step.words, step.narrows)}. {step.outcomes}".rstrip(". ") + "." for step in answer.next]
    parts = (
        ("also possible", besides),
        ("next tests", tests),
        ("left open", list(answer.left_open)),
        ("rates", [answer.rates]),
    )
    return (*found, Line(""), *wide_lines(parts, width))


def card_in_full(answer: Answer, card: Card, diagnosis: Diagnosis, width: int) -> tuple[Line, ...]:
    """Return one card with all its places, the evidence cell by cell, its rivals and its checks."""
    found = list(card_lines(card, width, most=len(card.where)))
    before = ""
    for one in card.evidence:
        said = one.words if one.verdict == "untested" else f"{one.words}: {one.seen}"
        found += _part("" if one.verdict == before else one.verdict, said, width)
        before = one.verdict
    for place, rival in enumerate(one for one in answer.also_possible if card.number in one.instead_of):
        found += _part("" if place else "rivals", _rival(rival), width)
    return (*found, *_checks(checks_of(diagnosis, card.suspect), width))


def _rival(rival: AlsoPossible) -> str:
    return f"{percent(rival.probability)} {rival.words.partition(':')[0]}: {'; '.join(rival.faults) or 'a wrong mark'}"


def _checks(checks: Sequence[BenchCheck], width: int) -> list[Line]:
    """Return the checks, best first, after their cautions."""
    cautions = dict.fromkeys(part for check in checks for part in re.split(r"(?<=\.) ", check.caution) if part)
    found = _part("caution", " ".join(cautions), width) if cautions else []
    for number, check in enumerate(checks, 1):
        state = f"{check.code}, {'POWER ON' if check.power else 'power off'}, {check.minutes:g} min"
        found += _part("check" if number == 1 else "", f"{number}. {state}: {check.do}", width)
        points = " and ".join(filter(None, check.points))
        found += _part("", f"between {points}", width) if points else []
        for name, says in (*outcomes_of(check), ("In between", check.between), ("Then", check.then)):
            found += _part("", f"{name.lower()}: {says}", width) if says else []
    return found


def _part(label: str, words: str, width: int) -> list[Line]:
    return [Line(text) for text in labelled(f"   {label}", words, width, INDENT)]
