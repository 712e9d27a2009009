"""Say once, at the end, what the answer can't tell."""

from __future__ import annotations

from collections import Counter

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.diagnosis.words.sentences import LARGE_GAP, WORTH_SAYING, percent
from matrixcheck.report.answer.cards import Seen


def left_open(seen: Seen, diagnosis: Diagnosis) -> tuple[str, ...]:
    """Return a sentence for each thing that stays open."""
    found = []
    gap = diagnosis.searched.gap or 0.0
    if any(test.held and not test.gain for test in diagnosis.next):
        found.append("Shorted diodes show only with switches held.")
    cells = [cell.key for matrix in seen.layout.matrices for cell in matrix.fitted]
    if seen.symptoms.marks and len(seen.symptoms.tested(cells)) < len(cells):
        found.append("Untested cells may hide more faults.")
    found.extend(_retests(seen))
    if WORTH_SAYING < gap <= LARGE_GAP:
        found.append(f"Up to {percent(gap)} was not searched.")
    if seen.job is not None and not seen.job.safety:
        found.append("No safety check is recorded.")
    return tuple(found)


def _retests(seen: Seen) -> list[str]:
    if seen.job is None:
        return []
    due = Counter(one.retest_due for one in seen.job.standings.values() if one.retest_due is not None)
    return [
        f"{count_of(count, 'cell waits', 'cells wait')} for a retest since the repair of {place}."
        for place, count in due.items()
    ]
