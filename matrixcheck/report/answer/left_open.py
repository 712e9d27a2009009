"""Say once, at the end, what the answer can't tell."""

from __future__ import annotations

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.diagnosis.words.sentences import LARGE_GAP, WORTH_SAYING, percent
from matrixcheck.record.safety_checks import checklist
from matrixcheck.report.answer.cards import Seen
from matrixcheck.report.safety import with_notes


def left_open(seen: Seen, diagnosis: Diagnosis) -> tuple[str, ...]:
    """Return a few words for each thing that stays open."""
    found = []
    gap = diagnosis.searched.gap or 0.0
    if any(test.held and not test.gain for test in diagnosis.next):
        found.append("shorted diodes, until switches are held")
    normal = {key for key, one in seen.job.standings.items() if one.normal} if seen.job else set()
    cells = [cell.key for matrix in seen.layout.matrices for cell in matrix.fitted if cell.key not in normal]
    if seen.symptoms.marks and len(seen.symptoms.tested(cells)) < len(cells):
        found.append("untested cells")
    if WORTH_SAYING < gap <= LARGE_GAP:
        found.append(f"up to {percent(gap)} not searched")
    if seen.job is not None and not seen.job.safety:
        found.append("no safety check is recorded")
    # Most jobs have none, and the list of all checks is long.
    if seen.job is not None and any(one.waived for one in seen.job.safety):
        found += [f"safety check waived: {one}" for one in with_notes(checklist(seen.job), "waived")]
    return tuple(found)
