"""Find driven lines that work while most others of their plug or chip are dead: something may hold them on.

A wire at ground pulls a switch matrix' column though its plug is off, and a driver that failed short does so though its
chip is dead. Alone neither changes what the column's own switches show, so that no misfit points to it.
"""

from __future__ import annotations

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Judged, Seen
from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.layout.designators import owner
from matrixcheck.layout.places import LineKey

LEAST_WORKING, LEAST_DARK = 2, 2
"""Cells of a line that work, and lines of the same part that are dark: one of either may be a wrong mark. Halved or
doubled: no answer of 15 moves."""


def lines_held_on(subject: Subject) -> frozenset[LineKey]:
    """Return the driven lines that work though more lines of one of their plugs or chips are wholly dark."""
    frame, evidence = subject.frame, subject.evidence
    exercised = (evidence.judged == Judged.IN_LIST) | (evidence.judged == Judged.BY_MARK)
    works = np.asarray((exercised & (evidence.seen == Seen.LIT)).any(axis=1))
    fails = np.asarray((exercised & (evidence.seen == Seen.DARK)).any(axis=1)) & ~works
    working, dark = works.sum(axis=0) >= LEAST_WORKING, fails.any(axis=0) & ~works.any(axis=0)
    if not working.any() or dark.sum() < LEAST_DARK:
        return frozenset()
    by_part: dict[str, set[LineKey]] = {}
    for key, line in frame.matrix.lines.items():
        if frame.is_driven(key):
            for ref in line.path:
                by_part.setdefault(owner(ref), set()).add(key)
    found: set[LineKey] = set()
    for lines in by_part.values():
        held = {line for line in lines if working[line.place - 1]}
        if sum(bool(dark[line.place - 1]) for line in lines) >= max(LEAST_DARK, len(held) + 1):
            found |= held
    return frozenset(found)
