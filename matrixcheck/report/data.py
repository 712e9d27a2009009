"""What is listed, as JSON values (format 1): complete, places as addresses (`switches.r1c3`), times as ISO 8601."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from matrixcheck.bench import JobSummary
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.model import Cell, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.function_lists import FunctionLine, counts_by_list, function_lists
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import SafetyItem, counts
from matrixcheck.record.summary import Coverage, LaterItem, LogLine
from matrixcheck.report.data_parts import (
    Data,
    danger,
    finding_made,
    formatted,
    head,
    repair_made,
    safety_made,
    time_text,
)
from matrixcheck.report.job_facts import facts_of
from matrixcheck.report.parts_to_buy import parts_to_buy
from matrixcheck.report.photos import photo_data
from matrixcheck.report.repair_results import RepairResult
from matrixcheck.report.sheet import Sheet


def jobs_data(jobs: Iterable[JobSummary]) -> Data:
    """Return the jobs of a book."""
    return formatted(
        jobs=[
            {
                "id": job.id,
                "name": job.name,
                "serial": job.serial,
                "owner": job.owner,
                "machine": job.machine,
                "opened_at": time_text(job.opened_at),
                "coverage": coverage_data(job.coverage),
                "worked_at": time_text(job.worked_at),
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
    return formatted(
        **danger(state),
        job=head(state) | {"layout_news": news},
        rounds=_rounds(state),
        coverage=coverage_data(coverage),
        matrices=_matrices(state),
    )


def status_data(state: JobState, coverage: Mapping[str, Coverage], news: str = "") -> Data:
    """Return the counts of one job, of its matrices and of the rest of the test mode."""
    lists = _function_counts(function_lists(state))
    return formatted(
        **danger(state), job=head(state) | {"layout_news": news}, coverage=coverage_data(coverage), lists=lists
    )


def later_data(items: Iterable[LaterItem], state: JobState) -> Data:
    """Return the later list, in the book's order; empty while nothing may be tested."""
    return formatted(**danger(state), later=_later(() if state.coils.stop else items))


def log_data(lines: Iterable[LogLine]) -> Data:
    """Return the job's history, oldest first."""
    return formatted(
        log=[
            {
                "seq": line.seq,
                "at": time_text(line.at),
                "text": line.text,
                "withdrawn": line.withdrawn,
                "client": line.client,
                "initials": line.initials,
            }
            for line in lines
        ]
    )


def sheet_data(sheet: Sheet) -> Data:
    """Return the whole report. What glows by itself in a good machine is no `stuck` cell of its counts."""
    state, facts = sheet.state, facts_of(sheet)
    return formatted(
        **danger(state),
        job=head(state),
        printed_at=time_text(sheet.printed_at),
        coverage={name: count._asdict() for name, count in facts.counts.items()},
        glowing=[str(key) for key in sorted(facts.glowing)],
        matrices=_matrices(state),
        diagnosis=to_json(sheet.diagnosis),
        answer=to_json(facts.answer),
        findings=list(map(finding_made, state.findings)),
        repairs=list(map(_repair, facts.repairs)),
        parts_to_buy=[one._asdict() for one in parts_to_buy(state.layout, [one.suspect for one in facts.faults])],
        safety=list(map(safety_made, state.safety)),
        functions=_functions(facts.functions),
        notes=[{"text": one.text, "at": time_text(one.at)} for one in state.notes],
        photos=[photo_data(one, state) for one in state.photos],
        later=_later(() if state.coils.stop else sheet.later),
    )


def safety_data(items: Sequence[SafetyItem]) -> Data:
    """Return the checks before power with how each stands."""
    return formatted(
        counts=counts(items)._asdict(),
        safety=[
            {
                "item": one.item,
                "about": one.about,
                "outcome": one.outcome,
                "note": one.made.note if one.made else "",
                "at": time_text(one.made.at) if one.made else None,
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
    return formatted(**danger(state), counts=_function_counts(lines), lines=_functions(lines))


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
            "at": time_text(one.made.at) if one.made else None,
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


def _rounds(state: JobState) -> list[Data]:
    return [
        {
            "client": client,
            "matrix": one.matrix,
            "kind": one.kind,
            "held": [str(key) for key in one.held],
            "started_at": time_text(one.started_at),
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
        "last_at": time_text(standing.last_at),
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
        **repair_made(repair),
        "passed": sorted(map(str, repair.passed)),
        "failed": sorted(map(str, repair.failed)),
        "cured": [str(key) for key in result.cured],
        "failing": [str(key) for key in result.failing],
        "waiting": [str(key) for key in result.waiting],
    }
