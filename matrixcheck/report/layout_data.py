"""Layouts as JSON values (format 1): what stands in one, what is wrong with it, what was made of charts."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matrixcheck.layout.frozen import to_json
from matrixcheck.layout.model import Layout, Matrix
from matrixcheck.layout.problems import Problem
from matrixcheck.report.data_parts import Data, formatted

if TYPE_CHECKING:
    from matrixcheck.layout.charts.importing import Imported


def layouts_data(found: Mapping[str, tuple[Path, Layout]]) -> Data:
    """Return the layouts that come with the program, by name."""
    return formatted(
        layouts=[
            {
                "name": name,
                "machine": layout.name,
                "path": str(path),
                "matrices": [_matrix(one) for one in layout.matrices],
            }
            for name, (path, layout) in found.items()
        ]
    )


def layout_data(path: Path, layout: Layout) -> Data:
    """Return all of a layout, under `layout` with the keys of its file."""
    matrices = [
        _matrix(one)
        | {"cells": [{"cell": str(cell.key), "number": cell.number, "name": cell.name} for cell in one.fitted]}
        for one in layout.matrices
    ]
    return formatted(path=str(path), machine=layout.name, matrices=matrices, layout=json.loads(to_json(layout)))


def problems_data(problems: Iterable[Problem]) -> Data:
    """Return everything wrong in a layout file; `diagnostics` in the shape in which editors take it.

    That is the Diagnostic of the Language Server Protocol 3.17: lines count from 0, characters from 0 in UTF-16 code
    units, severity 1 is an error, 2 a warning.
    """
    found = tuple(problems)
    return formatted(
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


def imported_data(imported: Imported, written: Sequence[Path]) -> Data:
    """Return what was made of charts: files, matrices, open questions with what was taken, what was left out.

    A problem names the chart's place that it comes from, "" where it comes from none.
    """
    decided = imported.decided
    return formatted(
        written=list(map(str, written)),
        machine=decided.data["name"],
        matrices=[
            {"id": one["id"], "kind": one["kind"], "rows": len(one["cells"]), "columns": len(one["cells"][0])}
            for one in decided.data["matrix"]
        ],
        guesses=[{"key": one.question.key, "text": one.question.text, "taken": one.answer} for one in imported.guesses],
        read_as=[{"from": str(one.spot), "text": one.text} for one in decided.guessed],
        left_out=[{"from": str(one.spot), "text": one.text} for one in decided.left_over],
        problems=[
            {"severity": one.severity, "text": str(one), "from": str(spot) if spot else ""}
            for one, spot in (*imported.problems, *imported.warnings)
        ],
    )


def _matrix(matrix: Matrix) -> Data:
    rows, columns = matrix.size
    return {"id": matrix.id, "kind": matrix.kind.value, "rows": rows, "columns": columns}
