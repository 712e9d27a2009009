"""Sneak paths in a lamp or coil bank: which devices glow or pull through shorted and reversed diodes.

A fed line drives current through its devices into a sensed line that is not sunk, out of it the wrong way through an
odd diode onto a driven line that is not fed, and from there through that line's devices to a sunk line. Only the wires
at odd diodes float, so the operating point has few unknowns; diodes and LEDs are a drop and a resistance.
Values are typical ones (common practice, no source), checked against a circuit simulator in the tests.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.condition import Condition
from matrixcheck.diagnosis.frame import Bools, Floats, Frame, States

DIODE_DROP = 0.5
LED_DROP = 2.6
ROUNDING = 0.04
"""Volts over which a diode's knee is rounded, so that the solution can be found by Newton's method."""
LEAK = 1e-6
STEPS = 25
LAMP_OHMS, FLASH_OHMS, COIL_AMPERES = 60.0, 30.0, 1.5
LED_AMPERES, FLASH_LED_AMPERES = 0.02, 0.07
SHARES = {"filament": (0.085, 0.6), "led": (0.03, 0.55), "flash led": (0.03, 0.4), "coil": (0.5, 0.5)}
"""Shares of its full current at which a device is seen faint, and bright (or, for a coil, pulls)."""
USUAL_VOLTS = {"lamp": 18.0, "coil": 35.0}


class Devices(NamedTuple):
    """Electrical values by (sensed, driven): resistance, LED drop, and currents at which a device is faint, bright.
    `warm`: resistance from the driven line to ground over a keep-warm resistor, infinite where there is none."""

    ohms: Floats
    drop: Floats
    faint: Floats
    bright: Floats
    warm: Floats
    volts: float


@lru_cache(maxsize=64)
def devices_of(frame: Frame) -> Devices:
    """The values of every place of a bank."""
    volts = frame.matrix.volts or USUAL_VOLTS[frame.kind]
    ohms, drop = np.full(frame.shape, np.inf), np.zeros(frame.shape)
    faint, bright, warm = np.full(frame.shape, np.inf), np.full(frame.shape, np.inf), np.full(frame.shape, np.inf)
    for place, cell in frame.cells.items():
        kind = "coil" if cell.device == "coil" else (cell.notes.fitted or "filament")
        flash = cell.device == "flash lamp"
        if kind == "led":
            full = FLASH_LED_AMPERES if flash else LED_AMPERES
            drop[place] = LED_DROP
            ohms[place] = max(volts - LED_DROP, 1.0) / full
        elif kind == "coil":
            full = COIL_AMPERES
            ohms[place] = volts / full
        else:
            ohms[place] = FLASH_OHMS if flash else LAMP_OHMS
            full = volts / ohms[place]
        shares = SHARES["flash led" if flash and kind == "led" else kind]
        faint[place], bright[place] = shares[0] * full, shares[1] * full
        if cell.notes.keep_warm is not None:
            warm[place] = ohms[place] + cell.notes.keep_warm.ohms
    return Devices(ohms, drop, faint, bright, warm, volts)


class Sneaked(NamedTuple):
    """What glows faintly, what shows in full, and which keep-warm LED glows one way or the other, through sneak paths;
    by (sensed, problem, driven)."""

    faint: Bools
    bright: Bools
    glow: Bools


def operating_points(frame: Frame, condition: Condition, fed: Floats, sunk: Floats) -> Sneaked:
    """Solves one problem for each row of `fed` [problem, driven] and `sunk` [problem, sensed], each 0.0 or 1.0.

    Fault sets in a search share most of their problems: those that were solved before are looked up.
    """
    devices = devices_of(frame)
    odd = [_Odd(place, True) for place in condition.shorted] + [_Odd(place, False) for place in condition.reversed_]
    odd = [one for one in odd if frame.fitted[one.place] and (condition.both_ways or devices.drop[one.place] == 0)]
    if not odd or not len(fed):
        nothing = np.zeros((frame.shape[0], len(fed), frame.shape[1]), dtype=bool)
        return Sneaked(nothing, nothing, nothing)
    rows, columns = [one.place[0] for one in odd], [one.place[1] for one in odd]
    around = condition.works[rows].tobytes() + condition.works[:, columns].tobytes()
    bank = (tuple(odd), around, condition.joined_sensed, condition.joined_driven, condition.earthed)
    ends = np.hstack([fed, sunk]).astype(np.uint8)
    keys = [(bank, each.tobytes()) for each in ends]
    wanted = {key: index for index, key in enumerate(keys) if key not in frame.solved}
    if wanted:
        at = list(wanted.values())
        for key, levels in zip(wanted, _solve(condition, devices, odd, fed[at], sunk[at]), strict=True):
            frame.solved[key] = levels
    levels = np.stack([frame.solved[key] for key in keys], axis=1)
    return Sneaked(levels == FAINT, levels == BRIGHT, levels == EITHER)


FAINT, BRIGHT, EITHER = 1, 2, 3


def _solve(condition: Condition, devices: Devices, odd: list[_Odd], fed: Floats, sunk: Floats) -> States:
    """[problem, sensed, driven]: FAINT, BRIGHT, EITHER for a keep-warm LED, or 0."""
    plain = not (condition.joined_sensed or condition.joined_driven or condition.earthed)
    if plain and _is_one_chain(odd, devices, fed, sunk):
        current, warmed = _chain(odd[0], condition, devices, fed, sunk), np.zeros((1, 1, 1))
    else:
        current, warmed = _Bank(condition, devices, odd, fed, sunk).solve()
    total = np.abs(current) + warmed
    levels = np.where(total >= devices.faint, FAINT, 0)
    levels[total >= devices.bright] = BRIGHT
    levels[(warmed >= devices.faint) & (current < devices.bright)] = EITHER
    levels[(fed[:, None, :] > 0) & (sunk[:, :, None] > 0)] = 0
    return levels.astype(np.uint8)


class _Odd(NamedTuple):
    """An odd diode: where, and whether it passes both ways (shorted) or only the wrong one (reversed)."""

    place: tuple[int, int]
    both: bool


def _is_one_chain(odd: list[_Odd], devices: Devices, fed: Floats, sunk: Floats) -> bool:
    """Whether each problem has one path at most: one odd diode, one line fed, one sunk, nothing kept warm."""
    if len(odd) > 1 or np.isfinite(devices.warm[:, odd[0].place[1]]).any():
        return False
    return bool(fed.sum(axis=1).max() <= 1 and sunk.sum(axis=1).max() <= 1)


def _chain(odd: _Odd, condition: Condition, devices: Devices, fed: Floats, sunk: Floats) -> Floats:
    """Currents where the only path leads through three devices in a row."""
    (row, column), both = odd
    problems = np.arange(len(fed))
    drives, sinks = fed.argmax(axis=1), sunk.argmax(axis=1)
    there = (fed.sum(axis=1) > 0) & (sunk.sum(axis=1) > 0) & (drives != column) & (sinks != row)
    there &= (condition.works[row, drives] > 0) & (condition.works[sinks, column] > 0)
    drop = 2 * DIODE_DROP + devices.drop[row, drives] + devices.drop[sinks, column] + (0.0 if both else DIODE_DROP)
    drop = drop + devices.drop[row, column]
    ohms = devices.ohms[row, drives] + devices.ohms[row, column] + devices.ohms[sinks, column]
    amperes = np.where(there, np.maximum(devices.volts - drop, 0.0) / ohms, 0.0)
    current = np.zeros((len(fed), *devices.ohms.shape))
    current[problems, row, drives] = amperes
    current[problems, sinks, column] = amperes
    current[problems, row, column] = np.where(there, -amperes, current[problems, row, column])
    return current


class _Bank:
    """The conducting branches at the wires that float: lines of odd diodes that are neither fed nor sunk."""

    def __init__(
        self, condition: Condition, devices: Devices, odd: list[_Odd], fed: Floats, sunk: Floats
    ) -> None:
        self.devices, self.fed, self.sunk = devices, fed > 0, sunk > 0
        self.earthed = np.zeros(fed.shape[1], dtype=bool)
        self.earthed[list(condition.earthed)] = True
        self.rows, self.row_groups = _joined({one.place[0] for one in odd}, condition.joined_sensed)
        self.columns, self.column_groups = _joined({one.place[1] for one in odd}, condition.joined_driven)
        forward = np.where((condition.works > 0) & np.isfinite(devices.ohms), 1 / devices.ohms, 0.0)
        knee = devices.drop + DIODE_DROP
        self.into, self.into_knee = forward[self.rows], knee[self.rows]
        self.back = np.zeros_like(self.into)
        self.back_knee = np.full_like(self.into, DIODE_DROP)
        for (row, column), both in odd:
            at = self.rows.index(row), column
            self.back[at] = 1 / devices.ohms[row, column]
            own = devices.drop[row, column]
            self.into_knee[at] = own + (0.0 if both else DIODE_DROP)
            self.back_knee[at] = own + (0.0 if both else DIODE_DROP)
        self.out, self.out_knee = forward[:, self.columns], knee[:, self.columns]
        warm = (condition.works > 0) & np.isfinite(devices.warm)
        self.warm = np.where(warm, 1 / devices.warm, 0.0)[:, self.columns]
        self.warm_knee = devices.drop[:, self.columns]

    def solve(self) -> tuple[Floats, Floats]:
        """Currents [problem, sensed, driven] at the operating point, and those through keep-warm resistors besides, by
        damped Newton steps on the floating wires."""
        high, count = self.devices.volts, len(self.fed)
        rows, columns = self.rows, self.columns
        to_rows, to_columns = self.row_groups, self.column_groups
        lines, size = len(to_rows), len(to_rows) + len(to_columns)
        bound_row = self.sunk[:, rows] @ to_rows.T > 0
        powered = self.fed[:, columns] @ to_columns.T > 0
        bound_column = powered | (self.earthed[columns] @ to_columns.T > 0)
        v_row = np.where(bound_row, 0.0, high / 2)
        v_column = np.where(bound_column, np.where(powered, high, 0.0), high / 2)
        free = ~np.hstack([bound_row, bound_column])
        both_free = free[:, :, None] & free[:, None, :]
        at = np.arange(size)
        for _ in range(STEPS):
            into, into_slope, out, out_slope, warm, warm_slope = self._branches(v_row @ to_rows, v_column @ to_columns)
            fed_in = into[:, :, columns].sum(axis=1) + out.sum(axis=1) + warm.sum(axis=1)
            residual = np.hstack(
                [LEAK * v_row - into.sum(axis=2) @ to_rows.T, LEAK * v_column + fed_in @ to_columns.T]
            )
            inner = to_rows @ into_slope[:, :, columns] @ to_columns.T
            leaving = into_slope[:, :, columns].sum(axis=1) + out_slope.sum(axis=1) + warm_slope.sum(axis=1)
            jacobian = np.zeros((count, size, size))
            jacobian[:, :lines, lines:] = -inner
            jacobian[:, lines:, :lines] = -inner.transpose(0, 2, 1)
            jacobian *= both_free
            jacobian[:, at[:lines], at[:lines]] = LEAK + into_slope.sum(axis=2) @ to_rows.T
            jacobian[:, at[lines:], at[lines:]] = LEAK + leaving @ to_columns.T
            step = np.linalg.solve(jacobian, (residual * free)[:, :, None])[:, :, 0]
            step = np.clip(step, -high / 3, high / 3)
            v_row -= step[:, :lines]
            v_column -= step[:, lines:]
            if np.abs(step).max() < 1e-3:
                break
        into, _, out, _, warm, _ = self._branches(v_row @ to_rows, v_column @ to_columns)
        current, warmed = np.zeros((count, *self.devices.ohms.shape)), np.zeros((count, *self.devices.ohms.shape))
        current[:, :, columns] = out
        current[:, rows, :] = np.where(into != 0, into, current[:, rows, :])
        warmed[:, :, columns] = warm * (self.fed[:, columns] == 0)[:, None, :]
        return current, warmed

    def _branches(self, v_row: Floats, v_column: Floats) -> tuple[Floats, ...]:
        """Currents and slopes: from driven lines into the odd diodes' sensed lines, from their driven lines out to
        sunk lines, and from those over keep-warm resistors to ground."""
        feed = np.where(self.fed, self.devices.volts, np.nan)
        feed[:, self.earthed] = 0.0
        feed[:, self.columns] = v_column
        across = feed[:, None, :] - v_row[:, :, None]
        cut = np.isnan(across)
        across[cut] = 0.0
        onward, onward_slope = _knee(across - self.into_knee)
        back, back_slope = _knee(-across - self.back_knee)
        into = np.where(cut, 0.0, self.into * onward - self.back * back)
        into_slope = np.where(cut, 0.0, self.into * onward_slope + self.back * back_slope)
        sunk = self.sunk.copy()
        sunk[:, self.rows] = False
        through, through_slope = _knee(v_column[:, None, :] - self.out_knee)
        out, out_slope = (self.out * each * sunk[:, :, None] for each in (through, through_slope))
        if not self.warm.any():
            nothing = np.zeros_like(out)
            return into, into_slope, out, out_slope, nothing, nothing
        warm, warm_slope = (self.warm * each for each in _knee(v_column[:, None, :] - self.warm_knee))
        return into, into_slope, out, out_slope, warm, warm_slope


def _joined(wanted: set[int], pairs: tuple[tuple[int, int], ...]) -> tuple[list[int], Floats]:
    """The wanted wires with all that touch them, and [node, wire] as 0.0 or 1.0: which of them make one node."""
    groups = [{wire} for wire in sorted(wanted)]
    for pair in pairs:
        touching = [group for group in groups if group & set(pair)]
        if touching:
            groups = [group for group in groups if group not in touching]
            groups.append(set(pair).union(*touching))
    wires = sorted(set().union(*groups))
    return wires, np.array([[float(wire in group) for wire in wires] for group in groups])


def _knee(volts: Floats) -> tuple[Floats, Floats]:
    """Volts beyond a diode's knee, rounded, and the slope."""
    rise = np.exp(np.minimum(volts / ROUNDING, 40.0))
    return ROUNDING * np.log1p(rise) + np.maximum(volts - 40 * ROUNDING, 0.0), rise / (1 + rise)
