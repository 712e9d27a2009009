"""What a bench check may show, and what each outcome means."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import BenchCheck


def outcomes_of(check: BenchCheck) -> tuple[tuple[str, str], ...]:
    """Return headings and what is seen under each. What glows by itself is no fault where the check confirms it."""
    # Here and not above: the screens need these words only beside a diagnosis, and its shapes are slow to import.
    from matrixcheck.diagnosis.result import FaultClass  # noqa: PLC0415

    if check.splits and all(fault.fault is FaultClass.KEEP_WARM_GLOW for fault in check.splits):
        return ("No fault if", check.good), ("Faulty if", check.faulty)
    faulty = check.faulty or check.expect
    return tuple((name, says) for name, says in (("Good if", check.good), ("Faulty if", faulty)) if says)
