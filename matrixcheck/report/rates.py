"""The rates of faults in use beside what closed jobs say of them, as rows and as JSON values (format 1)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from matrixcheck.diagnosis.machine.learned_rates import WEIGHT, LearnedRate, RateName
from matrixcheck.diagnosis.words.places import count_of

HEADS = ("part", "fault", "in use", "seen", "jobs", "cured", "learned")


class RateRow(NamedTuple):
    """A rate in words: the class of parts, the fault, and the figures under the heads of the table."""

    part: str
    fault: str
    in_use: str
    seen: str
    jobs: str
    cured: str
    learned: str


def rate_rows(found: Sequence[LearnedRate]) -> tuple[RateRow, ...]:
    """Return a row for each rate; what was never seen has nothing to learn from."""
    return tuple(
        RateRow(
            *rate_words(one.name),
            _chance(one.in_use),
            str(one.seen),
            str(one.visits),
            str(one.failed),
            _chance(one.mean) if one.seen else "-",
        )
        for one in found
    )


def rates_said(found: Sequence[LearnedRate], jobs: int, source: str) -> tuple[str, ...]:
    """Say what the table rests on: where the rates in use come from, and how they and what was seen are weighed."""
    cured = sum(one.failed for one in found)
    return (
        f"In use: {source}.",
        f"Learned from {count_of(jobs, 'closed job')} of this book, {count_of(cured, 'fault')} cured there.",
        f"A rate in use weighs as much as {WEIGHT} parts seen. A part counts once for each job that tested it.",
        "A fault counts where the retest after its repair passed.",
    )


def rates_data(found: Sequence[LearnedRate], jobs: int, source: str) -> dict[str, Any]:
    """Return the same with the parameters of each posterior, Beta(a, b)."""
    return {
        "format": 1,
        "source": source,
        "closed_jobs": jobs,
        "weight": WEIGHT,
        "rates": [
            {
                "table": list(one.name),
                "in_use": one.in_use,
                "seen": one.seen,
                "jobs": one.visits,
                "cured": one.failed,
                "a": one.a,
                "b": one.b,
                "learned": one.mean,
            }
            for one in found
        ],
    }


def rate_words(name: RateName) -> tuple[str, str]:
    """Return the class of parts and the fault of a rate in words."""
    table, kind, *_ = name
    if table == "cell":
        return _SORTS.get(kind, kind), {"device-dead": "dead", "device-stuck": "stuck on"}[name[-1]]
    if table == "part":
        return _PARTS.get(kind, kind), _FAULTS.get(kind, "open")
    if table == "contact":
        return f"contact, {kind}", "open"
    if table == "line":
        return "wire", "open" if kind == "open" else "broken"
    if table == "stuck_on":
        return kind if kind.startswith("switch") else f"{kind} driver", "stuck on"
    return f"{kind} wire", "grounded"


_SORTS = {"filament": "lamp", "led": "LED"}
_PARTS = {"integrated circuit": "chip", "pin": "chip pin", "connector": "plug", "other": "other part"}
_FAULTS = {"integrated circuit": "failed", "pin": "failed", "connector": "off", "fuse": "blown", "relay": "stuck"}


def _chance(rate: float) -> str:
    return f"{rate * 100:.3g} %"
