"""Rows of a grid that are printed in several lines: the name in one, its number below, the heading over all."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.layout.charts.blocks import Row
from matrixcheck.layout.charts.values import line_heading


def unstacked(body: Sequence[Row], heads: int) -> list[Row]:
    """Return one row for each that is headed by a side and its label, with what stands in the lines below it.

    `heads` is the count of columns that head rows. Rows of unequal height are left as they are.
    """
    starts = [place for place, row in enumerate(body) if any(line_heading(row[column]).side for column in range(heads))]
    if not starts or starts[0] != 0:
        return list(body)
    stacks = [body[start:end] for start, end in zip(starts, [*starts[1:], len(body)], strict=True)]
    height = len(stacks[0])
    return [_joined(stack) for stack in stacks] if all(len(stack) == height for stack in stacks) else list(body)


def _joined(rows: Sequence[Row]) -> Row:
    width = max(len(row.entries) for row in rows)
    entries = ("\n".join(filter(None, (row[column] for row in rows))) for column in range(width))
    return Row(rows[0].at, tuple(entries))
