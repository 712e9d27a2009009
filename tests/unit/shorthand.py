"""The other way round: lines given together, from lines one by one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from matrixcheck.layout.shorthand import KEYS, NOTHING, RUNS


def together(lines: list[Mapping[str, Any]]) -> dict[str, Any]:
    """Return lines given together, which `spelt_out` writes out as they were. Chains stand in lists of their own."""
    table: dict[str, Any] = {}
    for key in KEYS:
        values = [line.get(key) for line in lines]
        if not any(values):
            continue
        if key in RUNS:
            steps = max(len(value or []) for value in values)
            table[key] = [
                shortened([(value or [])[step] if step < len(value or []) else NOTHING for value in values])
                for step in range(steps)
            ]
        elif key == "chain":
            table[key] = [value or [] for value in values]
        else:
            same = len(set(values)) == 1 and key in ("select", "when", "wire")
            table[key] = values[0] if same else [value or "" for value in values]
    return table


def shortened(refs: list[str]) -> str:
    """Return designators of one step, one a line, as a run: the shortest text that `run` reads as these."""
    if len(refs) > 1 and len(set(refs)) == 1:
        return refs[0]
    pieces: list[str] = []
    start = 0
    while start < len(refs):
        end = _end_of_run(refs, start)
        if end - start > 1:
            last = re.search(r"[0-9]+$", refs[end - 1])
            pieces.append(f"{refs[start]}...{last[0] if last else ''}")
            start = end
        else:
            pieces.append(refs[start])
            start += 1
    return ", ".join(pieces)


def _end_of_run(refs: list[str], start: int) -> int:
    """Return where the run ends that begins at `start`: designators that count up or down by one."""
    best = start + 1
    for step in (1, -1):
        end = start + 1
        while end < len(refs) and refs[end] == _counted(refs[start], step * (end - start)):
            end += 1
        best = max(best, end)
    return best


def _counted(ref: str, more: int) -> str:
    found = re.fullmatch(r"(.*?)(0|[1-9][0-9]{0,3})", ref)
    return f"{found[1]}{int(found[2]) + more}" if found and int(found[2]) + more >= 0 else ""
