"""Lighting strings that show though nobody commands them: their test can't switch them, or a relay keeps them fed.

No reading tells these apart; the layout says what the test is meant to do. Where one relay feeds every string, the test
is meant to switch them, and that it doesn't is weighed against the relay. Elsewhere such lighting is taken for sound.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.noise import Predicted, Seen
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, States
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.reading import Reading


class Lighting(NamedTuple):
    """What lists of lighting lamps say of the strings.

    `switched`: something may switch them off. `unsure`: groups of places [sensed, exercise, driven] that show
    uncommanded, at rest and while another string is commanded, if every string does and one relay feeds them all.
    """

    switched: bool
    unsure: tuple[Bools, ...] = ()


SWITCHED = Lighting(switched=True)


def mask_lit_strings(frame: Frame, seen: States, readings: Sequence[Reading], always: float) -> Lighting:
    """Make unknown what lists of lighting lamps don't say, in `seen[sensed, reading, driven]`.

    Where nobody ever lists another lamp of the commanded string, those aren't looked at. Where every string stays lit,
    nothing switches the lighting off, and only the lamp that was judged says anything; unless one relay feeds it all.
    """
    judged = np.zeros(seen.shape, dtype=np.bool_)
    for index, reading in enumerate(readings):
        if reading.cell is not None:
            judged[frame.at(reading.cell)[0], index, frame.at(reading.cell)[1]] = True
    commanded, lit = _commanded(frame, readings), _lit(frame, readings)
    if not (lit & commanded).any():
        seen[~judged & commanded.T[None]] = Seen.UNKNOWN
    if not _stays_lit(frame, readings, always):
        return SWITCHED
    if _only_relay(frame) is None:
        seen[~judged] = Seen.UNKNOWN
        return Lighting(switched=False)
    uncommanded = (seen != Seen.DARK) & (seen != Seen.UNKNOWN) & ~commanded.T[None]
    at_rest = np.logical_not(np.any(commanded, axis=0))[None, :, None]
    return Lighting(switched=False, unsure=(uncommanded & at_rest, uncommanded & ~at_rest))


def unsure_relay(frame: Frame, readings: Sequence[Reading], always: float) -> str | None:
    """Return the relay that feeds every string, if all stay lit; None otherwise.

    `always`: the share of the lists that don't command a string in which it shows, if nothing switches it off.
    """
    relay = _only_relay(frame) if frame.is_strings else None
    return relay if relay is not None and _stays_lit(frame, readings, always) else None


def with_unsure(by_code: Floats, code: States, unsure: Sequence[Bools], not_switched: float) -> tuple[Floats, States]:
    """Return the weights by code with those of unsure places appended, and the codes with such places at these.

    `by_code[predicted, code]`: nats. `code[sensed, exercise, driven]`. `unsure`: groups of places, each a mask in the
    shape of `code`. Together they speak against dark strings as much as `not_switched`, the chance that the
    test doesn't switch what a relay feeds: no more than such a test weighs against the relay. Each group has the same
    part of that, so that what lights the places of one group only is worth little.
    """
    gains = by_code[Predicted.LIT] - by_code[Predicted.DARK]
    groups = [group for group in unsure if group.any()]
    tables, codes = [by_code], code.copy()
    for place, group in enumerate(groups, 1):
        total = float(gains[code[group]].sum())
        share = min(1.0, -log(not_switched) / (len(groups) * total))
        tables.append(share * by_code)
        codes[group] += np.uint8(place * by_code.shape[1])
    return np.concatenate(tables, axis=1), codes


def _stays_lit(frame: Frame, readings: Sequence[Reading], always: float) -> bool:
    """Return whether every string shows in the share `always` of the lists that don't command it, and at rest."""
    lists = [reading for reading in readings if reading.answered is not None]
    commanded, lit = _commanded(frame, lists), _lit(frame, lists)
    at_rest = ~commanded.any(axis=0)
    return bool(lists) and all(
        _is_lit(string[~own], always) and _is_lit(string[at_rest], always)
        for string, own in zip(lit, commanded, strict=True)
    )


def _is_lit(lit: Bools, always: float) -> bool:
    return not lit.size or bool(lit.mean() >= always)


def _commanded(frame: Frame, readings: Sequence[Reading]) -> Bools:
    """Return the string that each reading commands, by (string, reading)."""
    driven = np.array([-1 if reading.cell is None else frame.at(reading.cell)[1] for reading in readings], dtype=int)
    commanded: Bools = np.arange(frame.shape[1])[:, None] == driven
    return commanded


def _lit(frame: Frame, readings: Sequence[Reading]) -> Bools:
    """Return the strings of which a lamp shows besides the judged one, by (string, reading)."""
    lit = np.zeros((frame.shape[1], len(readings)), dtype=np.bool_)
    for index, reading in enumerate(readings):
        for cell in {*(reading.answered or ()), *reading.faint} - {reading.cell}:
            lit[frame.at(cell)[1], index] = True
    return lit


def _only_relay(frame: Frame) -> str | None:
    """Return the one relay that feeds every string, None where there isn't one.

    Two relays stuck at once are rarer than a test that doesn't switch.
    """
    strings = frame.matrix.columns if frame.drive_side == "column" else frame.matrix.rows
    relays = {frozenset(ref for ref in line.path if part_class(ref) == "relay") for line in strings}
    found = set.union(*map(set, relays))
    return found.pop() if len(relays) == len(found) == 1 else None
