"""What several answers in JSON have in common."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from matrixcheck.record.job_state import FindingMade, JobState, RepairMade, SafetyCheckMade
from matrixcheck.record.summary import kept_without_cell
from matrixcheck.report.stop import notice

Data = dict[str, Any]


def formatted(**body: Any) -> Data:
    """Return a whole answer of format 1."""
    return {"format": 1, **body}


def danger(state: JobState) -> Data:
    """Return what to do now about a coil that is on at rest, and whether nothing may be tested meanwhile."""
    return {"danger": notice(state.coils), "stop": state.coils.stop}


def head(state: JobState) -> Data:
    """Return who and what a job is."""
    return {
        "id": state.id,
        "name": state.name,
        "serial": state.serial,
        "owner": state.owner,
        "machine": state.layout.name,
        "opened_at": time_text(state.opened_at),
        "previous": state.previous,
        "verdict": state.verdict,
        "archived": state.archived,
        "without_cell": list(kept_without_cell(state)),
    }


def time_text(at: datetime | None) -> str | None:
    """Return a time as ISO 8601, None where there is none."""
    return at.isoformat() if at else None


def finding_made(one: FindingMade) -> Data:
    """Return what a bench check said of a place."""
    return {
        "place": one.place,
        "verdict": one.verdict,
        "check": one.check,
        "code": one.finding.code,
        "points": list(one.finding.points),
        "value": one.finding.value,
        "faults": list(one.finding.faults),
        "note": one.note,
        "at": time_text(one.at),
    }


def safety_made(one: SafetyCheckMade) -> Data:
    """Return how a check before power came out."""
    return {
        "item": one.item,
        "passed": one.passed,
        "note": one.note,
        "at": time_text(one.at),
        "waived": one.waived,
        "reading": one.reading,
        "limit": one.limit,
        "unit": one.unit,
        "source": one.source,
    }


def repair_made(one: RepairMade) -> Data:
    """Return a repair with the cells that it made due for a retest."""
    return {
        "place": one.place,
        "note": one.note,
        "at": time_text(one.at),
        "did": one.did,
        "fitted": one.fitted,
        "value": one.value,
        "outside": one.outside,
        "outcome": one.outcome,
        "due": sorted(map(str, one.due)),
    }
