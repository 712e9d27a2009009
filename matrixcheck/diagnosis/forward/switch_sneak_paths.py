"""Sneak paths in a switch matrix: how a pulled line reaches sensed lines through several closed switches.

A good diode passes current from the sensed line to the driven one only, and lifts the sensed line by one diode drop;
a shorted one, and a switch without a diode, join both lines; a reversed one passes the other way. A sensed line reads
low while few enough drops lie between it and a line that is pulled to ground.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.forward.broken_ends import moved
from matrixcheck.diagnosis.forward.fault_effects import Condition, Place
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, through

Drops = NDArray[np.int8]

MOST_AT_ONCE = 2**26
"""So many switches, one for each scan slot of each exercise, are worked out side by side: 64 MB of drops."""
DROPS_AT_5_VOLTS = 2
DROPS_ABOVE = 5
"""Diode drops that still read low, by the supply of the sensed side (from operating points of such a matrix)."""


def drops_read_low(frame: Frame) -> int:
    """Return how many diode drops in a row still read as closed."""
    return DROPS_ABOVE if frame.fuse_reads_closed else DROPS_AT_5_VOLTS


def sneaks(frame: Frame, condition: Condition, closed: Floats, pull: Floats, direct: Bools) -> Bools:
    """Return `direct` (sensed inputs, exercises, driven lines) with what sneak paths show besides.

    `closed`: switches that conduct, by (wire, exercise, wire); `pull[command, wire]`: what is pulled in each scan slot.
    """
    odd = odd_places(frame, condition)
    always = pull.min(axis=0) > 0
    grounded = np.zeros(frame.shape[0], dtype=bool) if condition.sunk is None else condition.sunk > 0
    enough = 3 - int(always.any()) - int(grounded.any())
    found = direct.copy()
    shut = closed > 0
    involved = shut.sum(axis=(0, 2)) >= enough
    if odd is not None:
        involved &= np.logical_or.reduce([shut[sensed, :, driven] for sensed, driven in odd])
    reads_low = _joined if odd is None else _low
    numbers = np.flatnonzero(involved)
    step = max(1, MOST_AT_ONCE // (len(pull) * closed[:, 0].size))
    for first in range(0, len(numbers), step):
        run = numbers[first : first + step]
        low = reads_low(frame, condition, closed[:, run], pull, grounded)
        found[:, run] |= low if condition.sense is None else through(condition.sense, low) > 0
    return found


def _joined(frame: Frame, condition: Condition, closed: Floats, pull: Floats, grounded: Bools) -> Bools:
    """Return the sensed wires that read low where every closed switch joins its two, by (wire, exercise, command)."""
    shut = _wired(condition, closed, frame.shape)
    more = len(condition.stubs)
    touching = [_touching(count, pairs) for count, pairs in zip(shut.shape[1:], _pairs(condition), strict=True)]
    sensed = np.tile(_with_stubs(grounded, more), (len(shut), len(pull), 1))
    driven = np.tile(_with_stubs(pull, more), (len(shut), 1, 1))
    count = -1.0
    while (total := sensed.sum() + driven.sum()) > count:
        count = total
        sensed = np.sign((sensed + driven @ shut.transpose(0, 2, 1)) @ touching[0])
        driven = np.sign((driven + sensed @ shut) @ touching[1])
    low: Bools = sensed[:, :, : len(grounded)].transpose(2, 0, 1) > 0
    return low


def _wired(condition: Condition, closed: Floats, shape: Place) -> Floats:
    """Return the closed switches between the wires that they join, (exercise, wire, wire), stubs counted as wires."""
    senses, drives = shape
    more = len(condition.stubs)
    shut = np.zeros((closed.shape[1], senses + more, drives + more))
    shut[:, :senses, :drives] = closed.transpose(1, 0, 2)
    for place, there in moved(condition, shape).items():
        shut[:, there[0], there[1]] = shut[:, place[0], place[1]]
        shut[:, place[0], place[1]] = 0.0
    return shut


def _with_stubs(wires: Floats | Bools, more: int) -> Floats:
    """Append zeros for so many stubs to values of wires, along the last axis."""
    return np.concatenate([wires, np.zeros((*wires.shape[:-1], more))], axis=-1)


def _pairs(condition: Condition) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
    """Return the pairs of sensed and of driven wires that touch."""
    return condition.joined_sensed, condition.joined_driven


def _touching(count: int, joined: tuple[Place, ...]) -> Floats:
    """Return each wire and those that touch it, (wire, wire) as 0.0 or 1.0."""
    found = np.eye(count)
    for a, b in joined:
        found[a, b] = found[b, a] = 1.0
    return found


def odd_places(frame: Frame, condition: Condition) -> set[Place] | None:
    """Return where current can pass the wrong way; None for everywhere (a matrix without diodes)."""
    if not frame.has_diodes:
        return None
    return {*condition.shorted, *condition.reversed_}


def _low(frame: Frame, condition: Condition, closed: Floats, pull: Floats, grounded: Bools) -> Bools:
    """Return the sensed wires that read low, by (wire, exercise, command).

    They do with few enough diode drops to a wire that is pulled or grounded. All exercises and commands are worked out
    side by side, in drops by [exercise, command, wire].
    """
    limit = drops_read_low(frame)
    far = np.int8(limit + 1)
    shut = _wired(condition, closed, frame.shape) > 0
    more = len(condition.stubs)
    moves = moved(condition, frame.shape)
    down = np.where(shut, np.int8(1), far)
    ups: list[tuple[int, int, Drops]] = []
    for places, drops_down, drops_up in ((condition.shorted, 0, 0), (condition.reversed_, limit + 1, 1)):
        for place in places:
            sense, drive = moves.get(place, place)
            leads = shut[:, sense, drive]
            down[leads, sense, drive] = drops_down
            ups.append((sense, drive, np.where(leads, np.int8(drops_up), far)))
    sensed = np.where(_with_stubs(grounded, more) > 0, np.int8(0), far) + np.zeros((len(shut), len(pull), 1), np.int8)
    driven = np.where(_with_stubs(pull, more) > 0, np.int8(0), far) + np.zeros((len(shut), 1, 1), np.int8)
    by_driven = _driven_first(down)[:, :, None, :]
    while True:
        _level(driven, condition.joined_driven)
        sensed = np.minimum(sensed, (_driven_first(driven)[:, :, :, None] + by_driven).min(axis=0))
        _level(sensed, condition.joined_sensed)
        before = driven.copy()
        for sense, drive, up in ups:
            driven[:, :, drive] = np.minimum(driven[:, :, drive], sensed[:, :, sense] + up[:, None])
        if (driven == before).all():
            break
    low: Bools = sensed[:, :, : len(grounded)].transpose(2, 0, 1) <= limit
    return low


def _driven_first(drops: Drops) -> Drops:
    """Return drops with the driven wires, their last axis, as the first: the least over these is found faster so."""
    return np.ascontiguousarray(np.moveaxis(drops, -1, 0))


def _level(drops: Drops, joined: tuple[Place, ...]) -> None:
    """Bring wires that touch to the lower of their two drops, in place."""
    for _ in joined:  # so many rounds that it gets from one end of a row of wires to the other
        for a, b in joined:
            drops[:, :, a] = drops[:, :, b] = np.minimum(drops[:, :, a], drops[:, :, b])
