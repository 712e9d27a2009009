"""What is listed, as JSON values (format 1): complete, places as addresses (`switches.r1c3`), times as ISO 8601."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from matrixcheck.bench import JobSummary, Kept
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.problems import Problem
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.function_lists import FunctionLine, counts_by_list, function_lists
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import SafetyItem, counts
from matrixcheck.record.summary import Coverage, LaterItem, LogLine, kept_without_cell
from matrixcheck.report.job_facts import facts_of
from matrixcheck.report.parts_to_buy import parts_to_buy
from matrixcheck.report.repair_results import RepairResult
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.stop import notice

Data = dict[str, Any]


def jobs_data(jobs: Iterable[JobSummary]) -> Data:
    """Return the jobs of a book."""
    return _formatted(
        jobs=[
            {
                "id": job.id,
                "name": job.name,
                "serial": job.serial,
                "owner": job.owner,
                "machine": job.machine,
                "opened_at": _time(job.opened_at),
                "coverage": coverage_data(job.coverage),
                "worked_at": _time(job.worked_at),
                "failing": job.failing,
                "retest_due": job.retest_due,
                "rounds": list(job.rounds),
                "previous": job.previous,
                "verdict": job.verdict,
                "archived": job.archived,
            }
            for job in jobs
        ]
    )


def job_data(state: JobState, coverage: Mapping[str, Coverage], news: str = "") -> Data:
    """Return one job with how every cell of every matrix stands."""
    return _formatted(
        **_danger(state),
        job=_head(state) | {"layout_news": news},
        rounds=_rounds(state),
        coverage=coverage_data(coverage),
        matrices=_matrices(state),
    )


def status_data(state: JobState, coverage: Mapping[str, Coverage], news: str = "") -> Data:
    """Return the counts of one job, of its matrices and of the rest of the test mode."""
    lists = _function_counts(function_lists(state))
    return _formatted(
        **_danger(state), job=_head(state) | {"layout_news": news}, coverage=coverage_data(coverage), lists=lists
    )


def later_data(items: Iterable[LaterItem], state: JobState) -> Data:
    """Return the later list, in the book's order; empty while nothing may be tested."""
    return _formatted(**_danger(state), later=_later(() if state.coils.stop else items))


def log_data(lines: Iterable[LogLine]) -> Data:
    """Return the job's history, oldest first."""
    return _formatted(
        log=[
            {
                "seq": line.seq,
                "at": _time(line.at),
                "text": line.text,
                "withdrawn": line.withdrawn,
                "client": line.client,
                "initials": line.initials,
            }
            for line in lines
        ]
    )


def kept_data(kept: Iterable[Kept], state: JobState) -> Data:
    """Return what was recorded just now, and the state after it; a rest scan has no cell."""
    return _formatted(
        **_danger(state),
        kept=[
            {
                "seq": state.number_of(one.seq),
                "cell": str(one.cell) if one.cell else None,
                "number": one.number,
                "name": one.name,
                "mark": str(one.mark),
                "before": str(one.before),
                "deferred": one.deferred,
            }
            for one in kept
        ],
    )


def problems_data(problems: Iterable[Problem]) -> Data:
    """Return everything wrong in a layout file; `diagnostics` in the shape in which editors take it.

    That is the Diagnostic of the Language Server Protocol 3.17: lines count from 0, characters from 0 in UTF-16 code
    units, severity 1 is an error, 2 a warning.
    """
    found = tuple(problems)
    return _formatted(
        problems=[
            {
                "path": one.path, "line": one.line, "column": one.column, "severity": one.severity, "key": one.key,
                "reason": one.reason, "nearest": one.nearest, "hint": one.hint,
            }
            for one in found
        ],
        diagnostics=[_diagnostic(one) for one in found],
    )  # fmt: skip


def _diagnostic(problem: Problem) -> Data:
    place = {"line": (problem.line or 1) - 1, "character": (problem.column or 1) - 1}
    message = ": ".join(filter(None, (problem.key, problem.reason)))
    return {
        "range": {"start": place, "end": place},
        "severity": 1 if problem.severity == "error" else 2,
        "source": "matrixcheck",
        "message": f"{message}; {problem.hint}" if problem.hint else message,
    }


def sheet_data(sheet: Sheet) -> Data:
    """Return the whole report. What glows by itself in a good machine is no `stuck` cell of its counts."""
    state, facts = sheet.state, facts_of(sheet)
    return _formatted(
        **_danger(state),
        job=_head(state),
        printed_at=_time(sheet.printed_at),
        coverage={name: count._asdict() for name, count in facts.counts.items()},
        glowing=[str(key) for key in sorted(facts.glowing)],
        matrices=_matrices(state),
        diagnosis=to_json(sheet.diagnosis),
        answer=to_json(facts.answer),
        findings=[
            {
                "place": one.place,
                "verdict": one.verdict,
                "check": one.check,
                "code": one.finding.code,
                "points": list(one.finding.points),
                "value": one.finding.value,
                "faults": list(one.finding.faults),
                "note": one.note,
                "at": _time(one.at),
            }
            for one in state.findings
        ],
        repairs=list(map(_repair, facts.repairs)),
        parts_to_buy=[one._asdict() for one in parts_to_buy(state.layout, [one.suspect for one in facts.faults])],
        safety=[
            {
                "item": one.item,
                "passed": one.passed,
                "note": one.note,
                "at": _time(one.at),
                "waived": one.waived,
                "reading": one.reading,
                "limit": one.limit,
                "unit": one.unit,
                "source": one.source,
            }
            for one in state.safety
        ],
        functions=_functions(facts.functions),
        notes=[{"text": one.text, "at": _time(one.at)} for one in state.notes],
        later=_later(() if state.coils.stop else sheet.later),
    )


def safety_data(items: Sequence[SafetyItem]) -> Data:
    """Return the checks before power with how each stands."""
    return _formatted(
        counts=counts(items)._asdict(),
        safety=[
            {
                "item": one.item,
                "about": one.about,
                "outcome": one.outcome,
                "note": one.made.note if one.made else "",
                "at": _time(one.made.at) if one.made else None,
                "reading": one.made.reading if one.made else None,
                "limit": one.made.limit if one.made else None,
                "unit": one.made.unit if one.made else "",
                "source": one.made.source if one.made else "",
            }
            for one in items
        ],
    )


def functions_data(lines: Sequence[FunctionLine], state: JobState) -> Data:
    """Return the rest of the test mode with what came of each line."""
    return _formatted(**_danger(state), counts=_function_counts(lines), lines=_functions(lines))


def _function_counts(lines: Sequence[FunctionLine]) -> Data:
    return {section: count._asdict() for section, count in counts_by_list(lines).items()}


def _functions(lines: Sequence[FunctionLine]) -> list[Data]:
    return [
        {
            "list": one.section,
            "line": one.item,
            "about": one.about,
            "outcome": one.outcome,
            "note": one.made.note if one.made else "",
            "at": _time(one.made.at) if one.made else None,
        }
        for one in lines
    ]


def coverage_data(coverage: Mapping[str, Coverage]) -> Data:
    """Return counts by matrix id."""
    return {
        name: {
            "working": count.working,
            "dead": count.dead,
            "stuck": count.stuck,
            "untested": count.untested,
            "retest_due": count.retest_due,
            "deferred": count.deferred,
            "total": count.total,
            "normal": count.normal,
        }
        for name, count in coverage.items()
    }


def _formatted(**body: Any) -> Data:
    return {"format": 1, **body}


def _danger(state: JobState) -> Data:
    return {"danger": notice(state.coils), "stop": state.coils.stop}


def _head(state: JobState) -> Data:
    return {
        "id": state.id,
        "name": state.name,
        "serial": state.serial,
        "owner": state.owner,
        "machine": state.layout.name,
        "opened_at": _time(state.opened_at),
        "previous": state.previous,
        "verdict": state.verdict,
        "archived": state.archived,
        "without_cell": list(kept_without_cell(state)),
    }


def _rounds(state: JobState) -> list[Data]:
    return [
        {
            "client": client,
            "matrix": one.matrix,
            "kind": one.kind,
            "held": [str(key) for key in one.held],
            "started_at": _time(one.started_at),
        }
        for client, one in state.rounds.items()
    ]


def _matrices(state: JobState) -> list[Data]:
    return [_matrix(matrix, state.standings) for matrix in state.layout.matrices]


def _matrix(matrix: Matrix, standings: Mapping[CellKey, Standing]) -> Data:
    rows, columns = matrix.size
    return {
        "id": matrix.id,
        "kind": str(matrix.kind),
        "rows": rows,
        "columns": columns,
        "cells": [_cell(cell, standings[cell.key]) for cell in matrix.fitted],
    }


def _cell(cell: Cell, standing: Standing) -> Data:
    return {
        "cell": str(cell.key),
        "number": cell.number,
        "name": cell.name,
        "device": cell.device,
        "mark": str(standing.mark),
        "echoed": [str(key) for key in standing.echoed],
        "answered_instead": [str(key) for key in standing.answered_instead],
        "faint": [str(key) for key in standing.faint],
        "intermittent": standing.intermittent,
        "deferred": standing.deferred,
        "normal": standing.accepted,
        "retest_due": standing.retest_due,
        "before_repair": standing.before_repair and str(standing.before_repair),
        "ohms": standing.ohms,
        "last_at": _time(standing.last_at),
        "count": standing.count,
    }


def _later(items: Iterable[LaterItem]) -> list[Data]:
    return [
        {
            "cell": str(item.cell),
            "number": item.number,
            "name": item.name,
            "reach": item.reach,
            "reason": item.reason,
        }
        for item in items
    ]


def _repair(result: RepairResult) -> Data:
    repair = result.repair
    return {
        "place": repair.place,
        "note": repair.note,
        "at": _time(repair.at),
        "did": repair.did,
        "fitted": repair.fitted,
        "value": repair.value,
        "outside": repair.outside,
        "outcome": repair.outcome,
        "due": sorted(map(str, repair.due)),
        "passed": sorted(map(str, repair.passed)),
        "failed": sorted(map(str, repair.failed)),
        "cured": [str(key) for key in result.cured],
        "failing": [str(key) for key in result.failing],
        "waiting": [str(key) for key in result.waiting],
    }


def _time(at: datetime | None) -> str | None:
    return at.isoformat() if at else None
