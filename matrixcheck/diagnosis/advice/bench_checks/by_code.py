"""Find a bench check by its code, from the layout alone: it can be recorded whatever the answer is now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from matrixcheck.diagnosis.advice.bench_checks.codes import matrix_word
from matrixcheck.diagnosis.advice.bench_checks.proposals import steps_for
from matrixcheck.diagnosis.advice.bench_checks.ranking import check_of, merged
from matrixcheck.diagnosis.advice.bench_checks.steps import Step
from matrixcheck.diagnosis.advice.bench_checks.values import judged
from matrixcheck.diagnosis.inference.unknown_breaks import whole_breaks
from matrixcheck.diagnosis.machine.candidates import Candidate, as_candidate, candidates
from matrixcheck.diagnosis.machine.fault_classes import OF_BANKS
from matrixcheck.diagnosis.machine.fault_keys import fault_key
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import BenchCheck, Fault, FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.problems import nearest, shown
from matrixcheck.layout.reading import Finding


class KnownCheck(NamedTuple):
    """Hold a check, the place that it is recorded at, and the keys of all faults that it can see."""

    check: BenchCheck
    place: str
    sees: tuple[str, ...]


def check_named(layout: Layout, code: str) -> KnownCheck:
    """Return the check of a code, capitals or not. Raises UsageError where the layout has none of that code."""
    near = merged(layout, steps_for(layout, [each.fault for each in _concerned(layout, code)]))
    found = next((each for each in near if each.casefold() == code.casefold()), None)
    if found is None:
        meant = nearest(code, near)
        hint = f"did you mean {meant}?" if meant else "`matrixcheck checks JOB` lists checks with their codes"
        raise UsageError(f"no bench check is called {shown(code)}", hint)
    return _known(layout, found, near[found])


def finding_of(layout: Layout, code: str, said: str) -> tuple[Finding, str]:
    """Return what a check found as a finding, and what follows from it in words: `said` is a verdict or a value.

    Raises UsageError where the layout has no such check, or what was said can't be read or judged.
    """
    return found_at(check_named(layout, code), said)


def found_at(known: KnownCheck, said: str) -> tuple[Finding, str]:
    """Return the same of a check that was found before."""
    check, found = known.check, judged(known.check, said)
    finding = Finding(
        place=known.place,
        verdict=found.verdict,
        check=check.check,
        code=check.code,
        points=check.points,
        value=found.value,
        faults=known.sees,
    )
    return finding, check.between if found.verdict == "between" else check.then


def every_check(layout: Layout) -> Mapping[str, KnownCheck]:
    """Return every check of any fault of a layout by its code."""
    steps = merged(layout, steps_for(layout, [each.fault for each in _all(layout)]))
    return {code: _known(layout, code, step) for code, step in steps.items()}


def _known(layout: Layout, code: str, step: Step) -> KnownCheck:
    return KnownCheck(check_of(code, step), _place(layout, step), _keys(layout, step.confirms))


def _all(layout: Layout) -> tuple[Candidate, ...]:
    coils = [cell.key for matrix in layout.matrices for cell in matrix.fitted if cell.device == "coil"]
    wrong = [Candidate(FaultClass.WRONG_DEVICE, None, (), (key,)) for key in coils]
    return (*candidates(layout), *whole_breaks(layout, shipped_rates()), *wrong)


def _concerned(layout: Layout, code: str) -> tuple[Candidate, ...]:
    """Return the candidates at the places that a code names: to word all checks of a large machine takes seconds."""
    words = {word.casefold() for word in code.split(".")[1:]}
    lines = {key for ref, through in layout.lines_through.items() if owner(ref).casefold() in words for key in through}
    lines |= {key for ref, through in layout.lines_through.items() if ref.casefold() in words for key in through}
    cells: set[CellKey] = set()
    for matrix in layout.matrices:
        if matrix_word(layout, matrix.id).casefold() not in words:
            continue
        lines |= {key for key in matrix.lines if key.address in words}
        named = [cell for cell in matrix.fitted if str(cell.number).casefold() in words]
        cells |= {cell.key for cell in named}
        lines |= {key for cell in named for key in (cell.row_line, cell.column_line)}
    return tuple(each for each in _all(layout) if _is_at(each, lines, cells) or each.fault_class in OF_BANKS)


def _is_at(candidate: Candidate, lines: set[LineKey], cells: set[CellKey]) -> bool:
    return not lines.isdisjoint(candidate.lines) or (not candidate.lines and not cells.isdisjoint(candidate.cells))


def _place(layout: Layout, step: Step) -> str:
    """Return the place that a check is recorded at: a part, a line or a cell."""
    first = step.at[0]
    return str(step.confirms[0].cells[0]) if first in layout.matrix_ids else str(first)


def _keys(layout: Layout, faults: Iterable[Fault]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(fault_key(layout, as_candidate(fault)) for fault in faults))
