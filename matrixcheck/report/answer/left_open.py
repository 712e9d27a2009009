"""Say once, at the end, what the answer can't tell."""

from __future__ import annotations

from collections import Counter

from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.diagnosis.words.places import count_of
from matrixcheck.diagnosis.words.sentences import LARGE_GAP, WORTH_SAYING, percent
from matrixcheck.layout.model import Layout
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import checklist
from matrixcheck.report.answer.cards import Seen
from matrixcheck.report.safety import with_notes


def left_open(seen: Seen, diagnosis: Diagnosis) -> tuple[str, ...]:
    """Return a few words for each thing that stays open."""
    found = []
    gap = diagnosis.searched.gap or 0.0
    if any(test.held and not test.gain for test in diagnosis.next):
        found.append("shorted diodes, until switches are held")
    cells = [cell.key for matrix in seen.layout.matrices for cell in matrix.fitted]
    if seen.symptoms.marks and len(seen.symptoms.tested(cells)) < len(cells):
        found.append("untested cells")
    if seen.job is not None:
        found += _retests(seen.layout, seen.job)
    if WORTH_SAYING < gap <= LARGE_GAP:
        found.append(f"up to {percent(gap)} not searched")
    if seen.job is not None and not seen.job.safety:
        found.append("no safety check is recorded")
    if seen.job is not None:
        found += [f"safety check waived: {one}" for one in with_notes(checklist(seen.job), "waived")]
    return tuple(found)


def _retests(layout: Layout, job: JobState) -> list[str]:
    due = Counter(one.retest_due for one in job.standings.values() if one.retest_due is not None)
    return [
        f"{count_of(count, 'cell')} to test again ({place_words(layout, place)} repaired)"
        for place, count in due.items()
    ]
