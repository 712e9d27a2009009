"""A work list as lines of text of a given width."""

from __future__ import annotations

from collections.abc import Iterator

from matrixcheck.report.answer.text import Line, labelled
from matrixcheck.report.outcomes import outcomes_of
from matrixcheck.report.words import lines_of
from matrixcheck.report.work_list import WorkGroup, WorkList, WorkStep

_INDENT = 12


def work_lines(work: WorkList, width: int, job: str) -> tuple[Line, ...]:
    """Return any danger, how to measure, then group by group the state, its cautions and the checks."""
    found = [Line(text, True) for text in lines_of(work.danger, width)]
    if work.stop:
        return tuple(found)
    found += [Line("")] if found else []
    if not work.groups:
        return (*found, *map(Line, lines_of("No bench check is proposed. Test more cells first.", width)))
    head = f"{work.count} {'check' if work.count == 1 else 'checks'}, at most {work.minutes:g} min with all changes."
    found += [Line(text, True) for text in lines_of(head, width)]
    found += map(Line, lines_of(f"Record each: matrixcheck finding {job} CODE good (or faulty, or the value)", width))
    found += [Line(""), Line("How to measure", True)]
    found += [Line(text) for rule in work.measuring for text in _hung("-", rule, width)]
    for group in work.groups:
        found += [Line(""), *_group(group, width)]
    return tuple(found)


def _group(group: WorkGroup, width: int) -> Iterator[Line]:
    state = "POWER ON" if group.power else "POWER OFF"
    opened = f", {group.setup}" if group.setup else ""
    yield from (Line(text, True) for text in lines_of(f"{state}{opened}: {group.minutes:g} min", width))
    for caution in group.cautions:
        yield from (Line(text, True) for text in _hung("!", caution, width))
    for step in group.steps:
        yield from _step(step, width)


def _step(step: WorkStep, width: int) -> Iterator[Line]:
    check = step.check
    serves = f"card {', '.join(map(str, step.cards))}" if step.cards else "also possible"
    follows = serves if check.splits else f"{serves}, afterwards"
    yield Line("")
    head = f"{check.code}  {check.minutes:g} min  ({follows})"
    yield from (Line(text, True) for text in _hung(f"{step.number}", head, width))
    for caution in step.cautions:
        yield from (Line(text, True) for text in labelled("   !", caution, width, _INDENT))
    parts = (
        ("do", step.do),
        ("between", " and ".join(check.points)),
        *((name.lower(), says) for name, says in outcomes_of(check)),
        ("in between", check.between),
        ("then", check.then),
        ("found", step.found),
    )
    for label, says in parts:
        if says:
            yield from map(Line, labelled(f"   {_LABELS.get(label, label)}", says, width, _INDENT))


_LABELS = {"good if": "good", "faulty if": "faulty", "no fault if": "no fault", "in between": "else"}


def _hung(mark: str, text: str, width: int) -> list[str]:
    return labelled(mark, text, width, 3)
