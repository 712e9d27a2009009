"""Draw candidate breaks on lines of unknown chain: any proper subset of the cells may lie beyond.

Candidates are drawn from the dead marks. The untested cells of the line may or may not be cut off as well, so that one
set of dead cells stands for several breaks, one for each count of cells before it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from math import comb

from matrixcheck.diagnosis.evidence.noise import Judged, Seen
from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.priors import Rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey

LEAST = 2
"""Tested cells of a line, all dead, from which on a fault of the line explains them better than breaks across it do.
Halved or doubled: no answer of 15 moves."""


def subset_prior(count: int, size: int) -> float:
    """Return the chance that a break of a line of `count` cells cuts off one given subset of `size` of them.

    Every count of cells beyond the break is as likely, and every subset of that count. Both solvers use it.
    """
    return 1 / ((count - 1) * comb(count, size))


def whole_breaks(layout: Layout, rates: Rates) -> Iterator[Candidate]:
    """Yield a break for each line of unknown chain, somewhere along it; its cells are left out."""
    for matrix in layout.matrices:
        for key, line in matrix.lines.items():
            if line.chain is None:
                yield Candidate(FaultClass.BREAK, None, (key,), (), rate=rates.line["break"])


def drawn_breaks(
    subjects: Iterable[Subject], rates: Rates, moved: Mapping[LineKey, float] | None = None
) -> Iterator[Candidate]:
    """Yield breaks of unknown chains that would cut off dead cells, each set at every position that it may have.

    Of the untested cells, those that showed by other ways lie on one side of the break or on the other, all of them:
    each with the dead cells is a set of its own.

    `moved`: rates of breaks by line, after findings.
    """
    known = moved or {}
    for subject in subjects:
        matrix = subject.frame.matrix
        tested, dead = tested_and_dead(subject)
        showing = _showing(subject)
        whole = _wholly_dead(matrix.lines, tested, dead)
        for key, line in matrix.lines.items():
            if line.chain is not None:
                continue
            cells = [cell.key for cell in matrix.cells_of(key)]
            lost = frozenset(cell for cell in cells if cell in dead)
            own = frozenset(cell for cell in lost if not _crossing(cell, key) & whole)
            unknown = frozenset(cell for cell in cells if cell not in tested)
            rate = known.get(key, rates.line["break"])
            apart = (unknown & showing, unknown - showing)
            for cut in _sets(lost, own):
                yield from breaks_of(key, cut, len(cells), unknown, rate, apart=apart if cut == lost else ())


def tested_and_dead(subject: Subject) -> tuple[frozenset[CellKey], frozenset[CellKey]]:
    """Return the cells that were exercised, and those of them that never answered."""
    evidence = subject.evidence
    own = (evidence.judged != Judged.AS_OTHER) & (evidence.seen != Seen.UNKNOWN)
    answered = (own & (evidence.seen == Seen.LIT)).any(axis=1)
    tested, dead = set(), set()
    for place, cell in subject.frame.cells.items():
        if own[place[0], :, place[1]].any():
            tested.add(cell.key)
            if not answered[place]:
                dead.add(cell.key)
    return frozenset(tested), frozenset(dead)


def _showing(subject: Subject) -> frozenset[CellKey]:
    """Return the cells that were seen to show while another one was exercised."""
    evidence = subject.evidence
    seen = (evidence.seen == Seen.LIT) | (evidence.seen == Seen.FAINT)
    shown = (seen & (evidence.judged == Judged.AS_OTHER)).any(axis=1)
    return frozenset(cell.key for place, cell in subject.frame.cells.items() if shown[place])


def _wholly_dead(lines: Iterable[LineKey], tested: frozenset[CellKey], dead: frozenset[CellKey]) -> frozenset[LineKey]:
    counts: dict[LineKey, int] = {}
    for cell in tested:
        for line in _lines(cell):
            counts[line] = counts.get(line, 0) + 1
    alive = {line for cell in tested - dead for line in _lines(cell)}
    return frozenset(line for line in lines if counts.get(line, 0) >= LEAST and line not in alive)


def _lines(cell: CellKey) -> tuple[LineKey, LineKey]:
    return LineKey(cell.matrix, "row", cell.row), LineKey(cell.matrix, "column", cell.column)


def _crossing(cell: CellKey, line: LineKey) -> set[LineKey]:
    return {other for other in _lines(cell) if other != line}


def _sets(lost: frozenset[CellKey], own: frozenset[CellKey]) -> list[frozenset[CellKey]]:
    """Return sets of dead cells that one break may explain.

    All of them, those that no wholly dead line explains, each of these less one cell that is dead for another reason,
    and single cells.
    """
    found = dict.fromkeys([lost, own])
    for whole in (lost, own):
        if len(whole) > 2:
            found.update(dict.fromkeys(whole - {cell} for cell in sorted(whole)))
    found.update(dict.fromkeys(frozenset((cell,)) for cell in sorted(lost)))
    return [cut for cut in found if cut]


def breaks_of(
    line: LineKey,
    cut: frozenset[CellKey],
    count: int,
    unknown: frozenset[CellKey],
    rate: float,
    *,
    apart: Iterable[frozenset[CellKey]] = (),
) -> Iterator[Candidate]:
    """Yield the break `cut` at each position, with any number of the untested cells cut off besides.

    The cells of a candidate include untested ones only where it is all of them, or one of the sets `apart`; else which
    ones is not known. Each subset counts once.
    """
    named = {some for some in apart if some and some < unknown}
    for besides in range(len(unknown) + 1):
        size = len(cut) + besides
        if size < count:
            here = sorted(sorted(some) for some in named if len(some) == besides)
            share = rate * subset_prior(count, size)
            for some in here:
                yield Candidate(FaultClass.BREAK, None, (line,), tuple(sorted([*cut, *some])), count - size, rate=share)
            others = comb(len(unknown), besides) - len(here)
            if others:
                cells = cut | unknown if besides == len(unknown) else cut
                lumped = share * others
                yield Candidate(FaultClass.BREAK, None, (line,), tuple(sorted(cells)), count - size, rate=lumped)
