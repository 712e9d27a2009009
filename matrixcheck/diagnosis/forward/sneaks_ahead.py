"""Operating points of many odd diodes at once, each of them the only one beside the same other faults.

A search asks for them one after the other, and each alone costs more in calls than in numbers. What is found here
stands where `bank_sneak_paths.operating_points` looks first, and is what that would find: the same branches and the
same Newton steps, for each diode until its own steps are small.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from itertools import compress
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.forward.bank_sneak_paths import (
    DIODE_DROP,
    FLOATING,
    LEAK,
    SMALL_STEP,
    STEPS,
    Commands,
    Devices,
    Odd,
    as_bytes,
    by_sensed,
    chain_levels,
    devices_of,
    key_of,
    knee,
    levels_of,
    solved,
)
from matrixcheck.diagnosis.forward.fault_effects import Condition
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, Ints, States

FEWEST = 3
"""Fewer diodes are as quick one by one."""
MOST_PLACES = 2**21
"""Places of all problems that are solved at once: 16 MB of amperes. Larger matrices spend their time in numbers."""


def solve_ahead(frame: Frame, condition: Condition, odd: Sequence[Odd], commands: Commands) -> None:
    """Keep the operating points of each diode of `odd` alone beside `condition`, with no other and nothing stuck there.

    `commands`: as `operating_points` has them. Passed over are diodes on wires that touch others or hang on a stub.
    """
    devices, about = devices_of(frame), as_bytes(*commands)
    asked: dict[Hashable, Odd] = {}
    for one in _untouched(condition, odd):
        key = key_of(devices, _beside(condition, one), [one], about)
        if frame.solved.get(key) is None:
            asked[key] = one
    if not FEWEST <= len(asked) <= MOST_PLACES // max(len(commands.fed) * frame.fitted.size, 1):
        return
    diodes = _diodes(condition, list(asked.values()))
    there = _comes_round(condition, devices, diodes, commands)
    chained = _has_one_path(condition, devices, diodes, there & _many(commands))
    for wanted, solve in ((chained, _chains), (~chained, _operating_points)):
        if np.count_nonzero(wanted) >= FEWEST:
            found = solve(condition, devices, diodes.only(wanted), there[wanted], commands)
            for key, each in zip(compress(asked, wanted.tolist()), found, strict=True):
                levels = by_sensed(each)
                frame.solved.put(key, levels, levels.nbytes + len(about))


def _untouched(condition: Condition, odd: Sequence[Odd]) -> list[Odd]:
    """Return the diodes on wires that touch no others, and on no stub."""
    sensed = {wire for pair in condition.joined_sensed for wire in pair}
    driven = {wire for pair in condition.joined_driven for wire in pair}
    hung = {place for stub in condition.stubs for place in stub.places}
    return [one for one in odd if not (one.place[0] in sensed or one.place[1] in driven or one.place in hung)]


def _beside(condition: Condition, odd: Odd) -> Condition:
    """Return the condition with an odd diode as well, as far as operating points depend on it."""
    if odd.both:
        return condition
    works = condition.works.copy()
    works[odd.place] = 0.0
    return condition._replace(works=works)


class _Diodes(NamedTuple):
    """Hold odd diodes, each at its sensed line `row` and its driven line `column`, with what works there.

    `of_row[diode, driven]`, `of_column[diode, sensed]`: the devices of its two lines but for its own; `onward[diode]`:
    its own, the right way. Each 0.0 or 1.0. `both[diode]`: whether it is shorted.
    """

    row: Ints
    column: Ints
    both: Bools
    of_row: Floats
    of_column: Floats
    onward: Floats

    def only(self, kept: Bools) -> _Diodes:
        """Return some of the diodes."""
        places = self.row[kept], self.column[kept], self.both[kept]
        return _Diodes(*places, self.of_row[kept], self.of_column[kept], self.onward[kept])


def _diodes(condition: Condition, odd: Sequence[Odd]) -> _Diodes:
    row, column = np.array([one.place for one in odd]).T
    both = np.array([one.both for one in odd])
    of_row, of_column = condition.works[row], condition.works[:, column].T.copy()
    number = np.arange(len(odd))
    onward = of_row[number, column] * both
    of_row[number, column] = of_column[number, row] = 0.0
    return _Diodes(row, column, both, of_row, of_column, onward)


def _is_warm(devices: Devices, diodes: _Diodes) -> Bools:
    """Return which diodes sit on a driven line with a keep-warm resistor."""
    return np.asarray(np.isfinite(devices.warm[:, diodes.column]).any(axis=0))


def _comes_round(condition: Condition, devices: Devices, diodes: _Diodes, commands: Commands) -> Bools:
    """Return the problems in which current can come round, [diode, problem]; see `bank_sneak_paths`."""
    fed, sunk = commands
    enters: Bools = diodes.of_row @ fed.T + fed.T[diodes.column] > 0
    if condition.earthed:
        return enters
    leaves: Bools = diodes.of_column @ sunk.T + diodes.onward[:, None] * sunk.T[diodes.row] > 0
    return enters & (leaves | _is_warm(devices, diodes)[:, None])


def _many(commands: Commands) -> Bools:
    """Return the problems with more than one line fed, or sunk."""
    many: Bools = (commands.fed.sum(axis=1) > 1) | (commands.sunk.sum(axis=1) > 1)
    return many


def _has_one_path(condition: Condition, devices: Devices, diodes: _Diodes, many: Bools) -> Bools:
    """Return the diodes for which each problem has one path at most; `many[diode, problem]`: more lines are live."""
    if condition.joined_sensed or condition.joined_driven or condition.earthed:
        return np.zeros(len(many), dtype=np.bool_)
    return ~(many.any(axis=1) | _is_warm(devices, diodes))


def _chains(condition: Condition, devices: Devices, diodes: _Diodes, there: Bools, commands: Commands) -> States:
    """Find the levels, [diode, problem, sensed, driven], where the only path leads through three devices in a row."""
    drives, sinks = commands.fed.argmax(axis=1), commands.sunk.argmax(axis=1)
    live = commands.fed.any(axis=1) & commands.sunk.any(axis=1)
    leads = there & live & (diodes.of_row[:, drives] > 0) & (diodes.of_column[:, sinks] > 0)
    diode, problem = leads.nonzero()
    row, column = diodes.row[diode], diodes.column[diode]
    path = (row, drives[problem]), (sinks[problem], column), (row, column)
    levels = np.zeros((*there.shape, *devices.ohms.shape), dtype=np.uint8)
    for place, level in zip(path, chain_levels(condition, devices, path, diodes.both[diode]), strict=True):
        levels[diode, problem, *place] = level
    return levels


def _operating_points(
    condition: Condition, devices: Devices, diodes: _Diodes, there: Bools, commands: Commands
) -> States:
    """Find the levels, [diode, problem, sensed, driven], where current comes round."""
    amperes = _solve(_branches(condition, devices, diodes, commands), there, devices.volts)
    current, warmed = np.zeros((2, *there.shape, *devices.ohms.shape))
    diode, problem = np.ogrid[: there.shape[0], : there.shape[1]]
    row, column = diodes.row[:, None], diodes.column[:, None]
    current[diode, problem, row] = amperes.row
    current[diode, problem, :, column] = amperes.column
    current[diode, problem, row, column] = amperes.own
    warmed[diode, problem, :, column] = amperes.warm
    levels = levels_of(condition, devices, commands, current, warmed)
    levels[~there] = 0
    return levels


class _Branches(NamedTuple):
    """Hold what conducts at the two wires of each diode, and how these wires are held.

    Siemens and volts of the knee of the devices of its sensed line (`row`), of its driven line (`column`), of keep-warm
    resistors of that (`warm`), [diode, problem or 1, line]; of its own device the wrong way and `onward`, [diode, 1].
    `feeds`: volts of the driven lines, [problem, driven]. `sensed`, `driven`: volts of the two wires, FLOATING where
    nothing holds them, [diode, problem].
    """

    row: tuple[Floats, Floats]
    column: tuple[Floats, Floats]
    warm: tuple[Floats, Floats]
    own: tuple[Floats, Floats]
    onward: Floats
    feeds: Floats
    sensed: Floats
    driven: Floats


def _branches(condition: Condition, devices: Devices, diodes: _Diodes, commands: Commands) -> _Branches:
    fed, sunk = commands
    row, column = diodes.row, diodes.column
    feeds = np.where(fed > 0, devices.volts, FLOATING)
    feeds[:, list(condition.earthed)] = 0.0
    knees = devices.drop + DIODE_DROP
    of_row = diodes.of_row / devices.ohms[row]
    of_column = diodes.of_column / devices.ohms[:, column].T
    of_warm = condition.lit[:, column].T / devices.warm[:, column].T
    own = 1 / devices.ohms[row, column]
    return _Branches(
        (of_row[:, None] * (feeds >= 0), knees[row][:, None]),
        (of_column[:, None] * (sunk > 0), knees[:, column].T[:, None]),
        (of_warm[:, None], devices.drop[:, column].T[:, None]),
        (own[:, None], (knees[row, column] - DIODE_DROP * diodes.both)[:, None]),
        (own * diodes.onward)[:, None],
        feeds,
        np.where(sunk.T[row] > 0, 0.0, FLOATING),
        feeds.T[column],
    )


class _Amperes(NamedTuple):
    """Hold what passes the devices of each branch, [diode, problem, line]; through the `own` one, [diode, problem]."""

    row: Floats
    column: Floats
    warm: Floats
    own: Floats


def _solve(branches: _Branches, there: Bools, volts: float) -> _Amperes:
    """Find the operating points by damped Newton steps on the two wires; see `bank_sneak_paths`.

    A diode is done once its steps are small where current comes round, `there[diode, problem]`.
    """
    free_sensed, free_driven = branches.sensed < 0, branches.driven < 0
    sensed = np.where(free_sensed, volts / 2, branches.sensed)
    driven = np.where(free_driven, volts / 2, branches.driven)
    moving = np.ones((len(there), 1), dtype=np.bool_)
    for _ in range(STEPS):
        step = _step(branches, sensed, driven, free_sensed, free_driven)
        bounded = np.where(moving, np.minimum(np.maximum(step, -volts), volts), 0.0)
        sensed -= bounded[0]
        driven -= bounded[1]
        moving &= ((np.abs(step).max(axis=0) * there).max(axis=1) >= SMALL_STEP)[:, None]
        if not moving.any():
            break
    row, column, warm, back, onward = _through(branches, sensed, driven)
    return _Amperes(row[0], column[0], warm[0], onward[0] - back[0])


def _step(branches: _Branches, sensed: Floats, driven: Floats, free_sensed: Bools, free_driven: Bools) -> Floats:
    """Return the Newton step of both wires in volts, [sensed or driven wire, diode, problem]; 0.0 where one is held."""
    row, column, warm, back, onward = _through(branches, sensed, driven)
    out = np.stack(
        [
            back[0] - onward[0] - row[0].sum(axis=2) + LEAK * sensed,
            onward[0] - back[0] + column[0].sum(axis=2) + warm[0].sum(axis=2) + LEAK * driven,
        ],
        axis=-1,
    )
    between = back[1] + onward[1]
    slopes = np.empty((*sensed.shape, 4))
    slopes[..., 0] = np.where(free_sensed, row[1].sum(axis=2) + between + LEAK, 1.0)
    slopes[..., 1] = slopes[..., 2] = -between * (free_sensed & free_driven)
    slopes[..., 3] = np.where(free_driven, column[1].sum(axis=2) + warm[1].sum(axis=2) + between + LEAK, 1.0)
    out *= np.stack([free_sensed, free_driven], axis=-1)
    step = solved(slopes.reshape(-1, 4), out.reshape(-1, 2))
    return step.T.reshape(2, *sensed.shape)


def _through(branches: _Branches, sensed: Floats, driven: Floats) -> tuple[tuple[Floats, Floats], ...]:
    """Return the amperes through the branches, and their slopes: row, column, warm, back and onward through the own."""
    found = []
    for (siemens, knees), across in (
        (branches.row, branches.feeds - sensed[..., None]),
        (branches.column, driven[..., None]),
        (branches.warm, driven[..., None]),
        (branches.own, sensed - driven),
        ((branches.onward, branches.own[1]), driven - sensed),
    ):
        beyond, slope = knee(across - knees)
        found.append((siemens * beyond, siemens * slope))
    return tuple(found)
