"""Every fault that a layout can have, with the chance of each before anything was read.

A candidate is a light tuple: a large layout has tens of thousands. `Candidate.fault` gives the shape that callers see.
Breaks stand here for known chains only; those of unknown chains are drawn from the readings (see
`inference.unknown_breaks`).
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from itertools import chain, combinations
from typing import Literal, NamedTuple

from matrixcheck.diagnosis.machine.fault_classes import BETWEEN_TWO, private_classes
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.plugs import SHIFTS, like_plugs, lines_of_plugs, shiftable_plugs
from matrixcheck.diagnosis.machine.priors import Rates, cell_rates, part_rate, shipped_rates, stuck_rate
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.designators import CONNECTORS, owner, part_class
from matrixcheck.layout.model import Layout, Line, Matrix
from matrixcheck.layout.places import CellKey, LineKey


class Candidate(NamedTuple):
    """One fault that may be there: fields as in `result.Fault`, and its `rate`, the chance before anything was read.

    `fused`: the lines of other matrices that go dark with the fuse of a line, if that lies at ground and takes it.
    """

    fault_class: FaultClass
    part: str | None
    lines: tuple[LineKey, ...]
    cells: tuple[CellKey, ...]
    after: int | None = None
    other: LineKey | str | None = None
    when: Literal["rest", "pulled"] | None = None
    rate: float = 0.0
    fused: tuple[LineKey, ...] = ()

    @property
    def fault(self) -> Fault:
        """Return the same as the shape that callers see."""
        return Fault.model_construct(
            fault=self.fault_class,
            part=self.part,
            lines=self.lines,
            cells=self.cells,
            after=self.after,
            other=self.other,
            when=self.when,
        )


def as_candidate(fault: Fault, rate: float = 0.0) -> Candidate:
    """Return a fault in the light shape."""
    return Candidate(fault.fault, fault.part, fault.lines, fault.cells, fault.after, fault.other, fault.when, rate)


def fused_elsewhere(layout: Layout, key: LineKey) -> tuple[LineKey, ...]:
    """Return the lines of other matrices that the fuses of a driven line of lamps or coils feed as well."""
    matrix = layout.matrix(key.matrix)
    if matrix.kind == "switch" or not Frame(matrix).is_driven(key):
        return ()
    fuses = [ref for ref in (*matrix.lines[key].supply, *matrix.supply) if part_class(ref) == "fuse"]
    fed = (line for ref in fuses for line in layout.lines_through[ref] if line.matrix != key.matrix)
    return tuple(dict.fromkeys(fed))


def laid_out(layout: Layout, fault: Fault) -> Candidate:
    """Return a fault of a layout in the light shape, with what its fuse feeds in other matrices."""
    found = as_candidate(fault)
    if fault.fault is not FaultClass.GROUNDED:
        return found
    return found._replace(fused=fused_elsewhere(layout, fault.lines[0]))


def fuse_mates(layout: Layout) -> dict[str, frozenset[str]]:
    """Return for each matrix the others that a fuse of its lamps or coils feeds as well."""
    return {
        matrix.id: frozenset(line.matrix for key in matrix.lines for line in fused_elsewhere(layout, key))
        for matrix in layout.matrices
    }


class _Extents:
    """The fitted cells of lines, looked up once."""

    def __init__(self, layout: Layout) -> None:
        self._layout = layout

    @cached_property
    def _by_line(self) -> dict[LineKey, list[CellKey]]:
        found: dict[LineKey, list[CellKey]] = {}
        for matrix in self._layout.matrices:
            for cell in matrix.fitted:
                found.setdefault(cell.row_line, []).append(cell.key)
                found.setdefault(cell.column_line, []).append(cell.key)
        return found

    def of(self, lines: tuple[LineKey, ...]) -> tuple[CellKey, ...]:
        return tuple(sorted({cell for line in lines for cell in self._by_line.get(line, ())}))


def candidates(layout: Layout, rates: Rates | None = None) -> tuple[Candidate, ...]:
    """List every fault of the layout's banks, parts, lines and cells, in that order."""
    known = rates or shipped_rates()
    extents = _Extents(layout)
    parts = (*_of_parts(layout, known, extents), *_of_plugs(layout, known, extents))
    lines = (*_of_lines(layout, known, extents), *_of_pairs(layout, known, extents))
    return (*_of_banks(layout, known), *parts, *lines, *_of_cells(layout, known))


def whole_faults(layout: Layout, rates: Rates) -> Iterator[Candidate]:
    """Yield the faults of banks, parts and single lines that take hold of whole lines: no breaks, pairs or cells.

    Their cells are left out, for callers that know what lies on a line.
    """
    return chain(
        _of_banks(layout, rates),
        _of_parts(layout, rates, None),
        _of_plugs(layout, rates, None),
        _of_lines(layout, rates, None),
    )


def faults_of(layout: Layout) -> tuple[tuple[Fault, float], ...]:
    """List `candidates` as pairs of fault and rate."""
    return tuple((candidate.fault, candidate.rate) for candidate in candidates(layout))


def _of_banks(layout: Layout, rates: Rates) -> Iterator[Candidate]:
    for fault in glow_faults(layout):
        yield as_candidate(fault, rates.bank[fault.fault])


def _reach(extents: _Extents | None, lines: tuple[LineKey, ...]) -> tuple[CellKey, ...]:
    return extents.of(lines) if extents else ()


def _of_parts(layout: Layout, rates: Rates, extents: _Extents | None) -> Iterator[Candidate]:
    for ref, lines in layout.lines_through.items():
        kind = part_class(ref)
        rate = part_rate(layout, ref, rates)
        whole = owner(ref) == ref
        if kind == "relay":
            yield from _of_relay(layout, ref, lines, rate, extents)
        elif kind == "fuse":
            yield Candidate(FaultClass.FUSE_BLOWN, ref, lines, _reach(extents, lines), rate=rate)
        elif whole and ref.rstrip("0123456789") in CONNECTORS:
            yield Candidate(FaultClass.UNPLUGGED, ref, lines, _reach(extents, lines), rate=rate)
        else:
            yield Candidate(FaultClass.OPEN, ref, lines, _reach(extents, lines), rate=rate)


def _of_relay(
    layout: Layout, ref: str, lines: tuple[LineKey, ...], rate: float, extents: _Extents | None
) -> Iterator[Candidate]:
    """Yield the ways in which a relay can be stuck.

    A changeover relay keeps one side selected; one in the path of lines, which feeds them when pulled in, keeps them
    dark or fed.
    """
    columns = tuple(line for line in lines if layout.line(line).select == ref)
    positions: tuple[Literal["rest", "pulled"], ...] = ("rest", "pulled")
    for when in positions:
        if len(columns) != 1:
            held = columns or lines
            yield Candidate(FaultClass.RELAY_STUCK, ref, held, _reach(extents, held), when=when, rate=rate)


def _of_plugs(layout: Layout, rates: Rates, extents: _Extents | None) -> Iterator[Candidate]:
    """Yield plugs in the wrong place: two like ones swapped, and each one pin off, either way."""
    for part, other in like_plugs(layout):
        lines = lines_of_plugs(layout, part, other)
        rate = rates.plug["swapped"]
        yield Candidate(FaultClass.PLUGS_SWAPPED, part, lines, _reach(extents, lines), other=other, rate=rate)
    for part in shiftable_plugs(layout):
        lines = lines_of_plugs(layout, part)
        rate = rates.plug["shifted"] / len(SHIFTS)
        for step in SHIFTS:
            yield Candidate(FaultClass.PLUG_SHIFTED, part, lines, _reach(extents, lines), step, rate=rate)


def _of_lines(layout: Layout, rates: Rates, extents: _Extents | None) -> Iterator[Candidate]:
    for matrix in layout.matrices:
        for key, line in matrix.lines.items():
            one = (key,)
            cells = _reach(extents, one)
            yield Candidate(FaultClass.OPEN, None, one, cells, rate=rates.line["open"])
            if not is_common(matrix, key):
                driver = driver_of(line)
                yield Candidate(FaultClass.STUCK_ON, driver, one, cells, rate=stuck_rate(matrix, key, rates))
                rate, fused = rates.grounded[matrix.kind.value], fused_elsewhere(layout, key)
                yield Candidate(FaultClass.GROUNDED, None, one, cells, rate=rate, fused=fused)
        for key, line in matrix.lines.items():
            if extents:
                yield from _breaks(matrix, key, line, rates.line["break"])


def _of_pairs(layout: Layout, rates: Rates, extents: _Extents) -> Iterator[Candidate]:
    for matrix in layout.matrices:
        yield from _pairs(matrix, rates, extents)


def _breaks(matrix: Matrix, key: LineKey, line: Line, rate: float) -> Iterator[Candidate]:
    if line.chain is None:
        return
    order = [matrix.by_number[number].key for number in line.chain]
    for after in range(1, len(order)):
        share = rate / (len(order) - 1)
        yield Candidate(FaultClass.BREAK, None, (key,), tuple(sorted(order[after:])), after, rate=share)


def _pairs(matrix: Matrix, rates: Rates, extents: _Extents) -> Iterator[Candidate]:
    for side in ("column", "row"):
        lines = [key for key in matrix.lines if key.side == side and not is_common(matrix, key)]
        for pair in combinations(lines, 2):
            cells = extents.of(pair)
            for fault_class in BETWEEN_TWO:
                share = 2 * rates.line[fault_class] / len(lines)
                yield Candidate(fault_class, None, pair, cells, other=pair[1], rate=share)


def _of_cells(layout: Layout, rates: Rates) -> Iterator[Candidate]:
    for matrix in layout.matrices:
        for cell in matrix.fitted:
            chances = cell_rates(cell, rates)
            for fault_class in private_classes(matrix.has_diodes):
                yield Candidate(fault_class, None, (), (cell.key,), rate=chances[fault_class])


def is_common(matrix: Matrix, key: LineKey) -> bool:
    """Return whether the line is the common side of direct inputs: always low, so that it can't be seen stuck."""
    return not matrix.rows_shared and matrix.kind == "switch" and key.side == "column"


def driver_of(line: Line) -> str | None:
    """Return what drives or senses the line: its last transistor, else its chip's pin; None where none is given."""
    for letter in ("Q", "U"):
        found = [ref for ref in line.path if ref.rstrip("0123456789").startswith(letter) or ref.startswith(letter)]
        if found:
            return found[-1]
    return None
