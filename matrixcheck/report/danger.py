"""What stands first at the head of every screen of a job, in a few words."""

from __future__ import annotations

from matrixcheck.record.job_state import JobState
from matrixcheck.report.safety import failed_briefly
from matrixcheck.report.stop import brief_notice


def danger_briefly(state: JobState) -> str:
    """Return that a coil was on at rest, and that a check before power failed; nothing where all is well."""
    return " ".join(filter(None, (brief_notice(state.coils), failed_briefly(state.safety))))
