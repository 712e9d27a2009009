"""What must hold of any answer, whatever was read."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from math import isfinite

from matrixcheck.diagnosis.result import Diagnosis, to_json
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

ROUNDING = 1e-9


def flaws_of(found: Diagnosis, readings: Sequence[Reading] = ()) -> list[str]:
    """Everything that is wrong with an answer; empty for a sound one."""
    flaws = [*_of_numbers(found), *_of_explanations(found), *_of_words(found), *_of_cells(found, readings)]
    try:
        json.dumps(to_json(found), allow_nan=False)
    except (TypeError, ValueError) as error:
        flaws.append(f"no JSON: {error}")
    return flaws


def _of_numbers(found: Diagnosis) -> Iterator[str]:
    chances = {
        "explanation": [each.probability for each in found.explanations],
        "suspect": [each.probability for each in found.suspects],
        "check": [each.probability for each in found.checks],
        "private cause": [each.private for each in found.cells],
        "gap": [] if found.searched.gap is None else [found.searched.gap],
    }
    for name, values in chances.items():
        yield from (f"{name}: probability {value}" for value in values if not 0.0 <= value <= 1.0)
    amounts = [each.gain for each in found.next] + [each.cost for each in found.checks]
    yield from (f"gain or cost {value}" for value in amounts if not (isfinite(value) and value >= 0.0))


def _of_explanations(found: Diagnosis) -> Iterator[str]:
    chances = [each.probability for each in found.explanations]
    if not chances:
        yield "no explanation"
    if sum(chances) > 1.0 + ROUNDING:
        yield f"explanations sum to {sum(chances)}"
    if chances != sorted(chances, reverse=True):
        yield f"explanations out of order: {chances}"
    ids = [each.id for each in found.suspects]
    if len(set(ids)) < len(ids):
        yield f"suspects with the same id: {ids}"
    for each in found.explanations:
        if len(set(each.suspects)) < len(each.suspects):
            yield f"a suspect twice in one explanation: {each.suspects}"
        if not set(each.suspects) <= set(ids):
            yield f"an unknown suspect: {each.suspects}"


def _of_words(found: Diagnosis) -> Iterator[str]:
    for suspect in found.suspects:
        if not suspect.members:
            yield f"empty suspect: {suspect.id}"
        yield from _of_text(f"suspect {suspect.id}", suspect.says)
        for member in suspect.members:
            if not (member.cells or member.lines):
                yield f"a fault of nothing: {suspect.id} {member.fault} {member.part}"
        if suspect.contradicts and not suspect.explains:
            yield f"{suspect.id} explains nothing and {len(suspect.contradicts)} cells speak against it"
    for test in found.next:
        yield from _of_text("next test", test.says)
        told = re.findall(r"If (.+?): (.+?)\.(?= If |$)", test.says)
        if test.gain and (len(told) != 2 or told[0][0] == told[1][0] or told[0][1] == told[1][1]):
            yield f"a next test that parts nothing: {test.says}"
    for check in found.checks:
        for text in (check.do, check.expect, *check.points):
            yield from _of_text(f"check of {check.suspect}", text)
        if check.suspect not in {each.id for each in found.suspects}:
            yield f"a check of nobody: {check.suspect}"


def _of_text(where: str, text: str) -> Iterator[str]:
    if not text.strip() or "nan" in text.split() or "None" in text.split():
        yield f"{where} says {text!r}"


def _of_cells(found: Diagnosis, readings: Sequence[Reading]) -> Iterator[str]:
    tested = {one.cell for one in readings if one.cell is not None and (one.mark or one.answered is not None)}
    for suspect in found.suspects:
        for first, second in (("explains", "contradicts"), ("explains", "untested"), ("contradicts", "untested")):
            both: set[CellKey] = set(getattr(suspect, first)) & set(getattr(suspect, second))
            if both and "untested" not in (first, second):
                yield f"{suspect.id}: {first} and {second} {sorted(both)}"
        if tested & set(suspect.untested):
            yield f"{suspect.id}: tested cells called untested: {sorted(tested & set(suspect.untested))}"
    judged = tested | {cell for one in readings for cell in one.answered or ()}
    for cell in found.cells:
        if cell.mark is Mark.WORKING and cell.cell not in judged:
            yield f"{cell.cell} was never tested and is called working"
