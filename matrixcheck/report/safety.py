"""The checks before power in words: those of plugs and of fuses in one row each, what failed by its name."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from matrixcheck.record.job_state import SafetyCheckMade
from matrixcheck.record.safety_checks import Outcome, SafetyCounts, SafetyItem, counts, failed_checks

OUTCOME_WORDS: dict[Outcome, str] = {
    "failed": "FAILED",
    "open": "NOT CHECKED",
    "waived": "waived",
    "passed": "passed",
}
"""How a check stands, the worst first."""


class SafetyRow(NamedTuple):
    """A check, or all of one kind: what, how it stands at worst, what is noted, and when it was checked last."""

    item: str
    outcome: Outcome
    note: str
    at: datetime | None


def safety_rows(items: Sequence[SafetyItem]) -> tuple[SafetyRow, ...]:
    """Return a row for each check; the plugs share one, and the fuses, with counts and those that have a remark."""
    rows = []
    for kind, group in _grouped(items):
        if kind:
            rows.append(_row_of_all(kind, group))
        else:
            rows += [SafetyRow(one.item, one.outcome, _note(one), one.made.at if one.made else None) for one in group]
    return tuple(rows)


def named_briefly(items: Sequence[SafetyItem], outcome: Outcome) -> tuple[str, ...]:
    """Return the names of the checks that stand so; plugs and fuses are counted, as in "2 of 17 plugs"."""
    found = []
    for kind, group in _grouped(items):
        names = [one.item for one in group if one.outcome == outcome]
        if kind and len(names) > 1:
            found.append(f"{len(names)} {kind}" if len(names) == len(group) else f"{len(names)} of {len(group)} {kind}")
        else:
            found += names
    return tuple(found)


def with_notes(items: Sequence[SafetyItem], outcome: Outcome) -> tuple[str, ...]:
    """Return each check that stands so, with what is noted."""
    return tuple(_noted(one.item, _note(one)) for one in items if one.outcome == outcome)


def counted(count: SafetyCounts) -> str:
    """Return how many checks stand how, as in "3 open, 1 FAILED"; what there is none of goes unsaid."""
    words = {"open": "open", "failed": "FAILED", "passed": "passed", "waived": "waived"}
    return ", ".join(f"{many} {words[name]}" for name, many in count._asdict().items() if many)


def failed_lines(made: Sequence[SafetyCheckMade]) -> tuple[str, ...]:
    """Return a loud line for each safety check that failed and was neither passed nor waived."""
    return tuple(f"! safety check FAILED: {_noted(one.item, one.note)}" for one in failed_checks(made))


def failed_briefly(made: Sequence[SafetyCheckMade]) -> str:
    """Return the same in a few words, for the head of a small screen; nothing where none failed."""
    failed = failed_checks(made)
    if not failed:
        return ""
    more = f" and {len(failed) - 1} more" if len(failed) > 1 else ""
    return f"FAILED: {failed[0].item}{more}."


def _grouped(items: Sequence[SafetyItem]) -> list[tuple[str, list[SafetyItem]]]:
    """Return the checks in their order, those of a kind together under its name, all others alone under ""."""
    sizes = {kind: [one for one in items if one.one_of == kind] for kind in {one.one_of for one in items} - {""}}
    found: list[tuple[str, list[SafetyItem]]] = []
    for one in items:
        group = sizes.get(one.one_of, [one])
        if len(group) == 1:
            found.append(("", [one]))
        elif one is group[0]:
            found.append((one.one_of, group))
    return found


def _row_of_all(kind: str, group: Sequence[SafetyItem]) -> SafetyRow:
    outcomes = {one.outcome for one in group}
    worst = next(outcome for outcome in OUTCOME_WORDS if outcome in outcomes)
    said = [
        _noted(f"{one.item} {OUTCOME_WORDS[one.outcome]}", _note(one))
        for one in group
        if one.made and (one.made.note or not one.made.passed)
    ]
    words = "; ".join((counted(counts(group)), *said))
    return SafetyRow(
        f"{len(group)} {kind}", worst, words, max((one.made.at for one in group if one.made), default=None)
    )


def _note(one: SafetyItem) -> str:
    return one.made.note if one.made else one.about


def _noted(words: str, note: str) -> str:
    return f"{words} ({note})" if note else words
