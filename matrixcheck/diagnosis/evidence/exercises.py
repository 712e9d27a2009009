"""What was exercised, held or opened, as arrays."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import prod
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import BATCH_PLACES, Floats, Frame, Ints, States
from matrixcheck.layout.places import CellKey


class Exercises(NamedTuple):
    """What was closed or commanded.

    `closed[sensed, exercise, driven]`: 0 or 1, as bytes where they are many. `slot[exercise]`: the driven line that is
    commanded, -1 for none. `sunk[exercise]`: the sensed line that is, likewise. `commanded[exercise]`: the exercised
    place, (-1, -1) for none. `opened`: the exercises of switches that rest closed and are opened. `earlier`: the driven
    lines that exercises commanded before these, where they are a batch of more.

    `alone`: the first exercise stands for as many as there are closed cells, each exercised and judged by itself, the
    second for a rest scan. That is all that marks alone need, whatever the size.
    """

    closed: Floats | States
    slot: Ints
    sunk: Ints
    commanded: tuple[tuple[int, int], ...]
    alone: bool = False
    opened: tuple[int, ...] = ()
    earlier: frozenset[int] = frozenset()

    def only(self, places: Sequence[int]) -> Exercises:
        """Return a few of the exercises, as copies."""
        at = list(places)
        return Exercises(
            self.closed[:, at],
            self.slot[at],
            self.sunk[at],
            tuple(self.commanded[place] for place in at),
            opened=tuple(index for index, place in enumerate(at) if place in self.opened),
        )

    def between(self, first: int, end: int) -> Exercises:
        """Return a run of the exercises, without a copy of what was closed."""
        return Exercises(
            self.closed[:, first:end],
            self.slot[first:end],
            self.sunk[first:end],
            self.commanded[first:end],
            opened=tuple(index - first for index in self.opened if first <= index < end),
            earlier=self.earlier.union(self.slot[:first].tolist()),
        )


def each_alone(frame: Frame, cells: Iterable[CellKey]) -> Exercises:
    """Return arrays for each of the cells exercised by itself, and a rest scan."""
    closed = np.zeros((frame.shape[0], 2, frame.shape[1]))
    for cell in cells:
        sensed, driven = frame.at(cell)
        closed[sensed, 0, driven] = 1
    return Exercises(closed, np.array([-1, frame.rest_slot]), np.array([-1, -1]), ((-1, -1), (-1, -1)), alone=True)


def exercises_of(frame: Frame, commands: Sequence[tuple[CellKey | None, Sequence[CellKey]]]) -> Exercises:
    """Return arrays for a sequence of (exercised cell or None, held cells)."""
    senses, drives = frame.shape
    shape = senses, len(commands), drives
    is_large = prod(shape) > BATCH_PLACES
    closed: Floats | States = np.zeros(shape, dtype=np.uint8) if is_large else np.zeros(shape)
    slot = np.full(len(commands), -1)
    places: list[tuple[int, int]] = []
    opened: list[int] = []
    resting = [frame.at(cell.key) for cell in frame.matrix.fitted if cell.notes.rest == "closed"]
    for index, (cell, held) in enumerate(commands):
        for sensed, driven in resting:
            closed[sensed, index, driven] = 1
        for other in held:
            sensed, driven = frame.at(other)
            closed[sensed, index, driven] = 1
        places.append((-1, -1) if cell is None else frame.at(cell))
        if cell is not None:
            sensed, driven = places[-1]
            if places[-1] in resting:
                opened.append(index)
            closed[sensed, index, driven] = 1
            slot[index] = driven
        elif frame.rest_slot >= 0:
            slot[index] = frame.rest_slot
    sunk = np.array([sensed for sensed, _ in places], dtype=np.int64)
    return Exercises(closed, slot, sunk, tuple(places), opened=tuple(opened))
