"""The analysis as the faces call it: whatever breaks in it reaches them as one error."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from matrixcheck.errors import AnalysisError, MatrixCheckError, origin
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading

if TYPE_CHECKING:
    from matrixcheck.diagnosis.diagnose import KeptRegions
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.diagnosis.result import Diagnosis


def attempt(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding] = (),
    seconds: float | None = None,
    *,
    rates: Rates | None = None,
) -> Diagnosis:
    """Diagnose, as `diagnosis.diagnose.diagnose` does. Raises as `attempts` does."""
    (last,) = attempts(layout, readings, findings, seconds, rates=rates, only_last=True)
    return last


def attempts(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding] = (),
    seconds: float | None = None,
    *,
    kept: KeptRegions | None = None,
    dropped: Callable[[], bool] | None = None,
    rates: Rates | None = None,
    only_last: bool = False,
) -> Iterator[Diagnosis]:
    """Yield better and better diagnoses, as `diagnosis.diagnose.refine` does, until `dropped` says that nobody waits.

    Raises AnalysisError for whatever breaks in the analyser, want of memory included; other errors of this program as
    they are.
    """
    try:
        from matrixcheck.diagnosis.diagnose import Limit, refine  # noqa: PLC0415 - a broken import is caught as well

        limit = Limit(seconds) if dropped is None else Limit(seconds, dropped=dropped)
        for found in refine(layout, readings, findings, limit, kept, rates=rates, only_last=only_last):
            yield found.model_copy(update={"rates": rates.says}) if rates and rates.says else found
    except MatrixCheckError:
        raise
    except Exception as error:
        raise AnalysisError(f"the analysis failed ({origin(error)})", "all that was recorded is kept") from error
