"""Sneak paths in a switch matrix: how a pulled line reaches sensed lines through several closed switches.

A good diode passes current from the sensed line to the driven one only, and lifts the sensed line by one diode drop;
a shorted one, and a switch without a diode, join both lines; a reversed one passes the other way. A sensed line reads
low while few enough drops lie between it and a line that is pulled to ground.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.condition import Condition, Place
from matrixcheck.diagnosis.frame import Bools, Floats, Frame
from matrixcheck.diagnosis.stubs import moved

DROPS_AT_5_VOLTS = 2
DROPS_ABOVE = 5
"""Diode drops that still read low, by the supply of the sensed side (from operating points of such a matrix)."""


def drops_read_low(frame: Frame) -> int:
    """How many diode drops in a row still read as closed."""
    return DROPS_ABOVE if frame.fuse_reads_closed else DROPS_AT_5_VOLTS


def sneaks(frame: Frame, condition: Condition, closed: Floats, pull: Floats, direct: Bools) -> Bools:
    """`direct` (sensed inputs, exercises, driven lines) with what sneak paths show besides.

    `closed`: switches that conduct, by (wire, exercise, wire); `pull[command, wire]`: what is pulled in each scan slot.
    """
    odd = odd_places(frame, condition)
    always = pull.min(axis=0) > 0
    grounded = np.zeros(frame.shape[0], dtype=bool) if condition.sunk is None else condition.sunk > 0
    enough = 3 - int(always.any()) - int(grounded.any())
    found = direct.copy()
    shut = closed > 0
    involved = shut.sum(axis=(0, 2)) >= enough
    if odd is None:
        low = _joined(frame, condition, closed[:, involved], pull, grounded)
        found[:, involved] |= low if condition.sense is None else np.tensordot(condition.sense, low, axes=1) > 0
        return found
    involved &= np.logical_or.reduce([shut[sensed, :, driven] for sensed, driven in odd])
    for index in np.flatnonzero(involved):
        low = _low_wires(frame, condition, shut[:, index, :], pull, grounded)
        reach = low if condition.sense is None else (condition.sense @ low) > 0
        found[:, index, :] |= reach
    return found


class _Switch(NamedTuple):
    """A closed switch: its place, and the sensed and driven wire that it joins."""

    place: Place
    sensed: int
    driven: int


def _joined(frame: Frame, condition: Condition, closed: Floats, pull: Floats, grounded: Bools) -> Bools:
    """[wire, exercise, command]: the sensed wires that read low where every closed switch joins its two."""
    senses, drives = frame.shape
    more = len(condition.stubs)
    shut = np.zeros((closed.shape[1], senses + more, drives + more))
    shut[:, :senses, :drives] = closed.transpose(1, 0, 2)
    for place, there in moved(condition, frame.shape).items():
        shut[:, there[0], there[1]] = shut[:, place[0], place[1]]
        shut[:, place[0], place[1]] = 0.0
    touching = _touching(senses + more, condition.joined_sensed), _touching(drives + more, condition.joined_driven)
    sensed = np.zeros((len(shut), len(pull), senses + more))
    sensed[:, :, :senses] = grounded
    driven = np.zeros((len(shut), len(pull), drives + more))
    driven[:, :, :drives] = pull
    count = -1.0
    while (total := sensed.sum() + driven.sum()) > count:
        count = total
        sensed = np.sign((sensed + driven @ shut.transpose(0, 2, 1)) @ touching[0])
        driven = np.sign((driven + sensed @ shut) @ touching[1])
    low: Bools = sensed[:, :, :senses].transpose(2, 0, 1) > 0
    return low


def _touching(count: int, joined: tuple[Place, ...]) -> Floats:
    """[wire, wire]: each wire and those that touch it."""
    found = np.eye(count)
    for a, b in joined:
        found[a, b] = found[b, a] = 1.0
    return found


def odd_places(frame: Frame, condition: Condition) -> set[Place] | None:
    """Where current can pass the wrong way; None for everywhere (a matrix without diodes)."""
    if not frame.has_diodes:
        return None
    return {*condition.shorted, *condition.reversed_}


def _low_wires(frame: Frame, condition: Condition, shut: Bools, pull: Floats, grounded: Bools) -> Bools:
    """[wire, command]: the sensed wires that read low while these switches are closed.

    Fault sets in a search share most of their problems: those that were solved before are looked up.
    """
    odd = (condition.shorted, condition.reversed_, condition.joined_sensed, condition.joined_driven)
    stubs = tuple(stub for stub in condition.stubs if any(shut[place] for place in stub.places))
    known = frame.solved((odd, stubs))
    key = b"".join((shut.tobytes(), pull.tobytes(), grounded.tobytes()))
    if key not in known:
        moves = moved(condition, frame.shape)
        places = [(int(s), int(d)) for s, d in np.argwhere(shut)]
        there = [_Switch(place, *moves.get(place, place)) for place in places]
        low = np.zeros((frame.shape[0], len(pull)), dtype=np.uint8)
        pulled = pull > 0
        leads_on = grounded.any() | (pulled & shut.any(axis=0)).any(axis=1)
        for command in np.flatnonzero(leads_on):
            low[list(_low(frame, condition, there, pulled[command], grounded)), command] = 1
        known[key] = low
    return known[key] > 0


def _low(frame: Frame, condition: Condition, closed: list[_Switch], pulled: Bools, grounded: Bools) -> set[int]:
    """The sensed wires that read low: fewest diode drops to a pulled or grounded wire, over the closed switches."""
    limit = drops_read_low(frame)
    far = limit + 1
    driven = {d: 0 if d < len(pulled) and pulled[d] else far for _, _, d in closed}
    sensed = {s: 0 if s < len(grounded) and grounded[s] else far for _, s, _ in closed}
    changed = True
    while changed:
        changed = False
        for place, s, d in closed:
            down, up = _drops(condition, place)
            if down is not None and driven[d] + down < sensed[s]:
                sensed[s], changed = driven[d] + down, True
            if up is not None and sensed[s] + up < driven[d]:
                driven[d], changed = sensed[s] + up, True
        changed |= _level(sensed, condition.joined_sensed) | _level(driven, condition.joined_driven)
    return {s for s, drops in sensed.items() if s < len(grounded) and drops <= limit}


def _level(drops: dict[int, int], joined: tuple[Place, ...]) -> bool:
    """Brings joined wires to the lower of their two drops; whether that changed any."""
    changed = False
    for a, b in joined:
        if a in drops or b in drops:
            least = min(drops.get(a, 99), drops.get(b, 99))
            changed |= drops.get(a) != least or drops.get(b) != least
            drops[a] = drops[b] = least
    return changed


def _drops(condition: Condition, place: Place) -> tuple[int | None, int | None]:
    """Diode drops from the driven wire to the sensed one, and back; None where the switch blocks."""
    if place in condition.shorted:
        return 0, 0
    if place in condition.reversed_:
        return None, 1
    return 1, None
