"""What bench checks and repairs found, as evidence on the faults of the places they name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import parse_cell, parse_line
from matrixcheck.layout.reading import Finding

CLEARED = 0.02
"""Share of its rate that a fault keeps once its part was found good or replaced: checks and repairs go wrong too
(common practice, no source)."""
CONDEMNED = 0.95
"""The chance of a fault whose part was found faulty (common practice, no source)."""


def updated_priors(layout: Layout, pool: Iterable[Candidate], findings: Sequence[Finding]) -> tuple[Candidate, ...]:
    """Return the candidates with their rates moved by the findings, later ones over earlier ones.

    The faults of places found faulty share one chance: any of them may be what was found.
    """
    verdicts = {finding.place: finding.verdict for finding in findings}
    if not verdicts:
        return tuple(pool)
    judged = [(candidate, _verdict(layout, candidate, verdicts)) for candidate in pool]
    condemned = sum(1 for _, verdict in judged if verdict == "faulty")
    return tuple(_moved(candidate, verdict, condemned) for candidate, verdict in judged)


def _moved(candidate: Candidate, verdict: str | None, condemned: int) -> Candidate:
    if verdict is None:
        return candidate
    if verdict == "faulty":
        return candidate._replace(rate=max(candidate.rate, CONDEMNED / max(condemned, 1)))
    return candidate._replace(rate=candidate.rate * CLEARED)


def _verdict(layout: Layout, candidate: Candidate, verdicts: Mapping[str, str]) -> str | None:
    """Return the verdict on the place that the fault sits in, None where nobody looked there."""
    for place, verdict in verdicts.items():
        if _sits_in(layout, candidate, place):
            return verdict
    return None


def _sits_in(layout: Layout, candidate: Candidate, place: str) -> bool:
    if candidate.part is not None:
        return candidate.part == place or (owner(candidate.part) == place and candidate.part != place)
    first = layout.matrices[0].id if layout.matrices else ""
    line = parse_line(place, first)
    if line is not None:
        return line in candidate.lines
    cell = parse_cell(place, first)
    return cell is not None and not candidate.lines and cell in candidate.cells
