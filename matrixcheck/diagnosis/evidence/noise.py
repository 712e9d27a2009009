"""The noise of reading: how likely each place is seen dark, faint or lit, given what it shows in truth.

Noise belongs to the cell: the exercised cell is judged wrongly now and then, a false echo of a particular other cell is
far rarer.
"""

from __future__ import annotations

from enum import IntEnum
from functools import cache
from typing import Final

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, Ints, States
from matrixcheck.diagnosis.machine.priors import ReadingRates


class Seen:
    """What was seen at a place, as it stands in arrays of bytes.

    Plain numbers: to compare an array with a member of an enum takes seven times as long.
    """

    DARK: Final = 0
    FAINT: Final = 1
    LIT: Final = 2
    UNKNOWN: Final = 3
    """Nobody looked, or nobody said."""


class Predicted:
    """What the forward model predicts at a place, as it stands in arrays of bytes.

    The first three are as in `Seen`, so that they compare; the last has nothing to do with the unknown there.
    """

    DARK: Final = Seen.DARK
    FAINT: Final = Seen.FAINT
    LIT: Final = Seen.LIT
    GLOW: Final = 3
    """A keep-warm LED: bright or faint, one way or the other."""


class Judged:
    """How a place was judged, as it stands in arrays of bytes."""

    AS_OTHER: Final = 0
    """Not the exercised place: it answered or it didn't."""
    IN_LIST: Final = 1
    """The exercised place, where everything that answered was listed."""
    BY_MARK: Final = 2
    """The exercised place, where a mark is all there is."""
    AT_REST: Final = 3
    """A place at rest, where a mark is all there is."""


NEVER = 1e-9
"""The chance of what a switch can't show, a glow; not 0, so that its logarithm is finite."""


class Glow(IntEnum):
    """What the keep-warm LEDs of a bank look like, as far as it is known.

    Whether they are bright or faint is one thing that isn't known of a bank, and not one a reading: it is taken as it
    comes. Where they are faint, none is bright by itself; where they are bright, one may dim while a strong coil pulls.
    """

    ANY = 0
    FAINT = 1
    BRIGHT = 2


def _glow_row(rates: ReadingRates, glow: Glow, *, exercised_by_mark: bool = False) -> list[float]:
    """Give P(seen | keep-warm LED), indexed as `Seen`.

    A mark can't say faint: an LED that does no more than glow when it is exercised is called dead as any faint lamp is,
    unless those of its bank are bright.
    """
    missed = rates.keep_warm_missed
    if exercised_by_mark and glow is not Glow.BRIGHT:
        missed = rates.faint_taken_for_dead
    faint = rates.keep_warm_faint_among_bright if glow is Glow.BRIGHT else 1 - rates.keep_warm_missed
    bright = rates.keep_warm_bright_among_faint if glow is Glow.FAINT else 1 - rates.keep_warm_missed
    return [missed, faint, bright, 1]


@cache
def log_table(rates: ReadingRates, glow: Glow = Glow.ANY) -> Floats:
    """Tabulate log P(seen | predicted), an array (4, 4, 4) indexed [`Judged`, `Predicted`, `Seen`].

    What is unknown was seen for certain: its log-likelihood is 0 whatever was predicted.
    """
    mixed = rates.glow_taken_for_light
    other = [
        [1 - rates.false_echo - rates.false_glow, rates.false_glow, rates.false_echo, 1],
        [rates.missed_glow, 1 - rates.missed_glow - mixed, mixed, 1],
        [rates.missed_echo, mixed, 1 - mixed - rates.missed_echo, 1],
        _glow_row(rates, glow),
    ]
    dead, working = rates.faint_taken_for_dead, rates.faint_taken_for_working
    exercised = [
        [
            [1 - e - e * rates.wrongly_faint, e * rates.wrongly_faint, e, 1],
            [dead, 1 - dead - working, working, 1],
            [e, e * rates.wrongly_faint, 1 - e - e * rates.wrongly_faint, 1],
            _glow_row(rates, glow, exercised_by_mark=by_mark),
        ]
        for e, by_mark in ((rates.wrong_answer, False), (rates.wrong_mark, True), (rates.wrong_mark, False))
    ]
    return np.log(np.array([other, *exercised], dtype=np.float64))


def rates_of_kind(frame: Frame, rates: ReadingRates) -> ReadingRates:
    """Return the rates that count in such a matrix: a switch knows no glow."""
    return rates._replace(false_glow=NEVER, glow_taken_for_light=NEVER) if frame.kind == "switch" else rates


def of_leds(rates: ReadingRates) -> ReadingRates:
    """Return the rates that count at LEDs, which ghost where a filament stays dark."""
    return rates._replace(false_glow=rates.false_glow_of_an_led)


def glow_of(frame: Frame, slot: Ints, seen: States, judged: States) -> Glow:
    """Choose what the keep-warm LEDs of a bank look like.

    `slot[exercise]`: the driven line that is commanded or live at rest, -1 for none. `seen`, `judged`: (sensed,
    exercises, driven), as `Seen` and `Judged`. They are as most of them were seen while others were exercised, or as
    faint as most were at rest, when nothing pulls that could dim them. Those of a side that isn't selected count only
    where no others show: current that comes round to them says nothing of how bright they are by themselves.
    """
    warm = (frame.warm_leds[:, None, :] > 0) & (judged == Judged.AS_OTHER)
    shows = warm & ((seen == Seen.LIT) | (seen == Seen.FAINT))
    fed = shows & _fed(frame, slot)[None]
    counted = fed if fed.any() else shows
    bright, faint = (counted & (seen == Seen.LIT)).sum(axis=(0, 2)), (counted & (seen == Seen.FAINT)).sum(axis=(0, 2))
    if not (bright + faint).any():
        return Glow.ANY
    at_rest = judged.max(axis=(0, 2)) == Judged.AS_OTHER
    faint_at_rest = faint[at_rest].any() and faint[at_rest].sum() >= bright[at_rest].sum()
    return Glow.FAINT if faint_at_rest or faint.sum() >= bright.sum() else Glow.BRIGHT


def _fed(frame: Frame, slot: Ints) -> Bools:
    """Return which driven lines of a sound bank are live in each exercise, by (exercise, driven)."""
    own: Bools = np.arange(frame.shape[1]) == slot[:, None]
    return own if frame.selected else np.ones_like(own)
