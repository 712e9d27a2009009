"""A fault named by its place, filled in with the lines and cells of a layout that it takes hold of."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal

from matrixcheck.diagnosis.machine.candidates import driver_of
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey


def fault_at(
    layout: Layout,
    fault_class: FaultClass,
    *,
    part: str | None = None,
    line: LineKey | None = None,
    other: LineKey | None = None,
    after: int | None = None,
    cells: Sequence[CellKey] = (),
    when: Literal["rest", "pulled"] | None = None,
) -> Fault:
    """The fault of that class at a part, a line, two lines or cells.

    A part takes hold of every line through it, a relay of the columns that it selects, if any. A break is given by
    `after`, the count of cells before it, or by the `cells` beyond it. Cells are taken by number where the chain is
    unknown.
    """
    if line is not None:
        lines: tuple[LineKey, ...] = (line,) if other is None else (line, other)
    elif part is not None:
        lines = layout.lines_through[part]
    else:
        lines = ()
    match fault_class:
        case FaultClass.RELAY_STUCK:
            lines = tuple(key for key in lines if layout.line(key).select == part) or lines
        case FaultClass.BREAK if line is not None:
            return _break(layout, line, after, cells)
        case FaultClass.STUCK_ON if line is not None:
            part = part or driver_of(layout.line(line))
    held = tuple(sorted(cells)) or cells_on(layout, lines)
    return Fault(fault=fault_class, part=part, lines=lines, cells=held, other=other, when=when)


def cells_on(layout: Layout, lines: Collection[LineKey]) -> tuple[CellKey, ...]:
    """The fitted cells of the lines, by place."""
    return tuple(sorted({cell.key for line in lines for cell in layout.matrix(line.matrix).cells_of(line)}))


def _break(layout: Layout, line: LineKey, after: int | None, cells: Sequence[CellKey]) -> Fault:
    order = [cell.key for cell in layout.matrix(line.matrix).cells_of(line)]
    before = len(order) - len(cells) if after is None else after
    lost = cells or order[before:]
    return Fault(fault=FaultClass.BREAK, lines=(line,), cells=tuple(sorted(lost)), after=before)
