"""Sneak paths in a lamp or coil bank: which devices glow or pull through shorted and reversed diodes.

A fed line drives current through its devices into a sensed line that is not sunk, out of it the wrong way through an
odd diode onto a driven line that is not fed, and from there through that line's devices to a sunk line. Only the wires
at odd diodes float, so the operating point has few unknowns; diodes and LEDs are a drop and a resistance.
Values are typical ones (common practice, no source), checked against a circuit simulator in the tests.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Final, NamedTuple

import numpy as np

from matrixcheck.diagnosis.forward.broken_ends import moved, spread
from matrixcheck.diagnosis.forward.fault_effects import Condition, Stub
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, Ints, States

DIODE_DROP = 0.5
LED_DROP = 2.6
"""Volts that a diode and an LED drop before current flows."""
ROUNDING = 0.03
"""Volts over which a diode's knee is rounded, so that the solution can be found by Newton's method."""
LEAK = 1e-6
"""Siemens from each floating wire to ground, so that the equations of one that nothing reaches have a solution."""
STEPS, SMALL_STEP = 25, 5e-2
"""Newton steps at most, and the volts below which no further one is needed."""
FLOATING = -1.0
"""In place of volts, for a wire that nothing holds."""
LAMP_OHMS, FLASH_AMPERES, COIL_AMPERES = 60.0, 1.0, 1.5
LED_AMPERES, FLASH_LED_AMPERES = 0.02, 0.07
SHARES = {
    "filament": (0.085, 0.6),
    "flash filament": (0.15, 0.6),
    "led": (0.03, 0.55),
    "flash led": (0.03, 0.4),
    "coil": (0.5, 0.5),
}
"""Shares of its full current at which a device is seen faint, and bright (or, for a coil, pulls)."""
USUAL_VOLTS = {"lamp": 18.0, "coil": 35.0}
"""The supply of a bank whose layout gives none, by its kind."""


class Level:
    """How a device shows through sneak paths, as it stands in arrays of bytes; none where nothing comes round."""

    NONE: Final = 0
    FAINT: Final = 1
    BRIGHT: Final = 2
    EITHER: Final = 3
    """A keep-warm LED that glows one way or the other."""


class Devices(NamedTuple):
    """Electrical values by (sensed, driven), infinite where nothing is fitted.

    `ohms`; `drop`: volts of an LED; `faint`, `bright`: amperes at which a device is seen so. `warm`: ohms from the
    driven line to ground over a keep-warm resistor. `volts`: the supply.
    """

    ohms: Floats
    drop: Floats
    faint: Floats
    bright: Floats
    warm: Floats
    volts: float
    any_warm: bool

    def is_warm(self, columns: Sequence[int]) -> bool:
        """Return whether a device of these driven lines is kept warm."""
        return bool(np.isfinite(self.warm[:, columns]).any())


def devices_of(frame: Frame) -> Devices:
    """Return the values of every place of a bank; worked out once."""
    return frame.once(_devices)


def _devices(frame: Frame) -> Devices:
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
            ohms[place] = volts / FLASH_AMPERES if flash else LAMP_OHMS
            full = volts / ohms[place]
        shares = SHARES[f"flash {kind}" if flash else kind]
        faint[place], bright[place] = shares[0] * full, shares[1] * full
        if cell.notes.keep_warm is not None:
            warm[place] = ohms[place] + cell.notes.keep_warm.ohms
    return Devices(ohms, drop, faint, bright, warm, volts, bool(np.isfinite(warm).any()))


class Odd(NamedTuple):
    """An odd diode: where, and whether it passes both ways (shorted) or only the wrong one (reversed)."""

    place: tuple[int, int]
    both: bool


class Sneaked(NamedTuple):
    """What shows through sneak paths, by (sensed, problem, driven).

    `faint`; `bright`: in full; `glow`: a keep-warm LED that glows one way or the other.
    """

    faint: Bools
    bright: Bools
    glow: Bools


def operating_points(frame: Frame, condition: Condition, odd: list[Odd], fed: Floats, sunk: Floats) -> Sneaked:
    """Solve one problem for each row of `fed` [problem, driven] and `sunk` [problem, sensed], each 0.0 or 1.0.

    `odd`: the odd diodes that current can pass. What another fault set asked before is looked up.
    """
    devices = devices_of(frame)
    moves = moved(condition, frame.shape) if condition.stubs else {}
    on_stub = any(one.place in moves for one in odd)
    key = key_of(devices, condition, odd, as_bytes(fed, sunk), condition.stubs if on_stub else ())
    levels = frame.solved.get(key)
    if levels is None:
        solve = _solve_with_stubs if on_stub else _solve
        levels = by_sensed(solve(condition, devices, odd, fed, sunk))
        frame.solved.put(key, levels, levels.nbytes + fed.size + sunk.size)
    return Sneaked(levels == Level.FAINT, levels == Level.BRIGHT, levels == Level.EITHER)


def as_bytes(*arrays: Floats) -> bytes:
    """Return arrays of 0.0 and 1.0 as a part of a key."""
    return b"".join([each.astype(np.uint8).tobytes() for each in arrays])


def key_of(
    devices: Devices, condition: Condition, odd: Sequence[Odd], commands: bytes, stubs: tuple[Stub, ...] = ()
) -> Hashable:
    """Return all that operating points depend on; `commands`: what is fed and sunk, `as_bytes`."""
    rows, columns = [one.place[0] for one in odd], [one.place[1] for one in odd]
    around = [condition.works[rows], condition.works[:, columns]]
    if condition.held_on is not None:
        around.append(condition.held_on[:, columns])
    if devices.any_warm:
        around.append(condition.lit)
    joined = (condition.joined_sensed, condition.joined_driven)
    return tuple(odd), *joined, condition.earthed, stubs, as_bytes(*around), commands


def by_sensed(levels: States) -> States:
    """Return levels by (problem, sensed, driven) as they are kept, by (sensed, problem, driven)."""
    return np.ascontiguousarray(levels.transpose(1, 0, 2))


def odd_diodes(frame: Frame, condition: Condition) -> list[Odd]:
    """Return the odd diodes that current can pass the wrong way: an LED beside one may block it."""
    if not (condition.shorted or condition.reversed_):
        return []
    drop = devices_of(frame).drop
    odd = [Odd(place, True) for place in condition.shorted] + [Odd(place, False) for place in condition.reversed_]
    return [one for one in odd if frame.fitted[one.place] and (condition.both_ways or drop[one.place] == 0)]


def _solve(condition: Condition, devices: Devices, odd: list[Odd], fed: Floats, sunk: Floats) -> States:
    """Find the levels, (problem, sensed, driven) as `Level`, where current can come round."""
    levels = np.zeros((len(fed), *devices.ohms.shape), dtype=np.uint8)
    comes_round = _comes_round(condition, devices, odd, fed, sunk)
    if comes_round.any():
        levels[comes_round] = _levels(condition, devices, odd, fed[comes_round], sunk[comes_round])
    return levels


def _comes_round(condition: Condition, devices: Devices, odd: list[Odd], fed: Floats, sunk: Floats) -> Bools:
    """Return the problems in which current can come round through an odd diode.

    It passes from a fed line to the sensed wire of the diode, and from its driven wire to a sunk line, to ground, or
    through a keep-warm resistor.
    """
    rows = _wires({one.place[0] for one in odd}, condition.joined_sensed)
    columns = _wires({one.place[1] for one in odd}, condition.joined_driven)
    enters = (fed @ condition.works[rows].any(axis=0) + fed[:, columns].any(axis=1)) > 0
    if condition.held_on is not None or condition.earthed or (devices.any_warm and devices.is_warm(columns)):
        return enters
    leaves: Bools = sunk @ condition.works[:, columns].any(axis=1) > 0
    return enters & leaves


def _wires(wanted: set[int], pairs: tuple[tuple[int, int], ...]) -> list[int]:
    """Return the wanted wires with all that touch them."""
    return _joined(wanted, pairs)[0] if pairs else sorted(wanted)


def _levels(condition: Condition, devices: Devices, odd: list[Odd], fed: Floats, sunk: Floats) -> States:
    plain = not (condition.joined_sensed or condition.joined_driven or condition.earthed or drains(condition))
    if plain and _is_one_chain(odd, devices, fed, sunk):
        return _chain(odd[0], condition, devices, fed, sunk)
    amperes = _Bank(condition, devices, odd, fed, sunk).solve()
    return levels_of(condition, devices, Commands(fed, sunk), *amperes)


class Commands(NamedTuple):
    """Say which lines each problem feeds, [problem, driven], and which it sinks, [problem, sensed]: 0.0 or 1.0."""

    fed: Floats
    sunk: Floats


def levels_of(condition: Condition, devices: Devices, commands: Commands, current: Floats, warmed: Floats) -> States:
    """Return how devices show that pass such amperes: `current`, and `warmed` through keep-warm resistors besides.

    Amperes and levels by (problem, sensed, driven), or with more axes before these.
    """
    fed, sunk = commands
    total = np.abs(current)
    if devices.any_warm:
        total += np.maximum(warmed, _standing(condition, devices) * fed[:, None, :] * (current != 0))
    levels = np.where(total >= devices.faint, np.uint8(Level.FAINT), np.uint8(Level.NONE))
    levels[total >= devices.bright] = Level.BRIGHT
    if devices.any_warm:
        levels[(warmed >= devices.faint) & (current < devices.bright)] = Level.EITHER
    levels *= 1 - (sunk[:, :, None] * fed[:, None, :]).astype(np.uint8)
    return levels


def _solve_with_stubs(condition: Condition, devices: Devices, odd: list[Odd], fed: Floats, sunk: Floats) -> States:
    """Find the levels where an odd diode hangs on the far end of a broken wire, which then floats like any other."""
    shape, more = devices.ohms.shape, len(condition.stubs)
    moves = moved(condition, (shape[0], shape[1]))
    works, lit = condition.works.copy(), condition.lit.copy()
    for place in moves:
        works[place] = 0.0 if place in condition.reversed_ else 1.0
        lit[place] = 1.0
    wider = condition._replace(
        works=spread(works, more, moves),
        lit=spread(lit, more, moves),
        held_on=None if condition.held_on is None else spread(condition.held_on, more, moves),
        shorted=tuple(moves.get(place, place) for place in condition.shorted),
        reversed_=tuple(moves.get(place, place) for place in condition.reversed_),
    )
    values = (spread(each, more, moves, np.inf) for each in (devices.ohms, devices.faint, devices.bright, devices.warm))
    ohms, faint, bright, warm = values
    there = Devices(ohms, spread(devices.drop, more, moves), faint, bright, warm, devices.volts, devices.any_warm)
    others = np.zeros((len(fed), more))
    hung = [one._replace(place=moves.get(one.place, one.place)) for one in odd]
    levels = _solve(wider, there, hung, np.hstack([fed, others]), np.hstack([sunk, others]))
    folded = levels[:, : shape[0], : shape[1]].copy()
    for (sensed, driven), (at, over) in moves.items():
        folded[:, sensed, driven] = levels[:, at, over]
    return folded


def _standing(condition: Condition, devices: Devices) -> Floats:
    """Return the amperes that pass a filament through its keep-warm resistor while its line is fed, (sensed, driven).

    They make no glow by themselves, but add to what comes round.
    """
    filaments = condition.lit * (devices.drop == 0)
    standing: Floats = filaments * devices.volts / devices.warm
    return standing


def drains(condition: Condition) -> bool:
    """Return whether a device that is stuck leads the driven line of an odd diode to ground."""
    columns = [driven for _, driven in (*condition.shorted, *condition.reversed_)]
    return condition.held_on is not None and bool(condition.held_on[:, columns].any())


def _is_one_chain(odd: list[Odd], devices: Devices, fed: Floats, sunk: Floats) -> bool:
    """Return whether each problem has one path at most: one odd diode, one line fed, one sunk, nothing kept warm."""
    if len(odd) > 1 or (devices.any_warm and devices.is_warm([odd[0].place[1]])):
        return False
    return bool(fed.sum(axis=1).max() <= 1 and sunk.sum(axis=1).max() <= 1)


def _chain(odd: Odd, condition: Condition, devices: Devices, fed: Floats, sunk: Floats) -> States:
    """Find the levels where the only path leads through three devices in a row."""
    (row, column), both = odd
    drives, sinks = fed.argmax(axis=1), sunk.argmax(axis=1)
    there = fed.any(axis=1) & sunk.any(axis=1) & (drives != column) & (sinks != row)
    there &= (condition.works[row, drives] > 0) & (condition.works[sinks, column] > 0)
    problems = there.nonzero()[0]
    drives, sinks = drives[problems], sinks[problems]
    path = (row, drives), (sinks, column), (row, column)
    levels = np.zeros((len(fed), *devices.ohms.shape), dtype=np.uint8)
    for place, level in zip(path, chain_levels(condition, devices, path, both), strict=True):
        levels[problems, *place] = level
    return levels


def chain_levels(
    condition: Condition, devices: Devices, path: Sequence[tuple[Ints | int, Ints | int]], both: Bools | bool
) -> list[States]:
    """Return the levels of three devices in a row between supply and ground, the last one that of the odd diode.

    `path`: the sensed and the driven lines of the three, of many such rows. `both`: whether the diode is shorted.
    """
    drop = 2 * DIODE_DROP + sum(devices.drop[place] for place in path) + np.where(both, 0.0, DIODE_DROP)
    amperes = np.maximum(devices.volts - drop, 0.0) / sum(devices.ohms[place] for place in path)
    standing = _standing(condition, devices)[path[0]] if devices.any_warm else 0.0
    levels = []
    for place, through in zip(path, (amperes + standing * (amperes > 0), amperes, amperes), strict=True):
        faint, bright = through >= devices.faint[place], through >= devices.bright[place]
        levels.append(np.where(bright, np.uint8(Level.BRIGHT), faint * np.uint8(Level.FAINT)))
    return levels


class _Bank:
    """The conducting branches at the wires that float: lines of odd diodes that are neither fed nor sunk.

    Every branch leads from one wire down to another through a resistance beyond a knee voltage; what passes both ways
    is two branches. Wires count sensed lines first, then driven ones, then ground.
    """

    def __init__(self, condition: Condition, devices: Devices, odd: list[Odd], fed: Floats, sunk: Floats) -> None:
        self.shape = devices.ohms.shape
        self.volts = devices.volts
        rows, self.row_nodes = _joined({one.place[0] for one in odd}, condition.joined_sensed)
        columns, self.column_nodes = _joined({one.place[1] for one in odd}, condition.joined_driven)
        self._nodes(rows, columns)
        self._branches(condition, devices, odd, rows, columns)
        self._bounds(condition, fed, sunk)

    def _nodes(self, rows: list[int], columns: list[int]) -> None:
        """Set `wires[node, wire]`: 1.0 where a wire belongs to an unknown node."""
        senses, drives = self.shape
        first = len(self.row_nodes)
        self.wires = np.zeros((first + len(self.column_nodes), senses + drives + 1))
        self.wires[:first, rows] = self.row_nodes
        self.wires[first:, [senses + column for column in columns]] = self.column_nodes

    def _branches(
        self, condition: Condition, devices: Devices, odd: list[Odd], rows: list[int], columns: list[int]
    ) -> None:
        """Set the branches that end at a wire that may float."""
        near = np.zeros(self.shape, dtype=bool)
        near[:, columns] = True
        down = near.copy()
        near[rows] = True
        knee = devices.drop + DIODE_DROP
        for place, both in odd:
            knee[place] -= DIODE_DROP if both else 0.0
        reverse = np.zeros(self.shape, dtype=bool)
        reverse[tuple(zip(*(one.place for one in odd), strict=True))] = True
        ways = [_Way(True, False, False, near & (condition.works > 0), devices.ohms, knee)]
        ways.append(_Way(False, False, False, reverse, devices.ohms, knee))
        if devices.any_warm:
            there = down & (condition.lit > 0) & np.isfinite(devices.warm)
            ways.append(_Way(True, True, True, there, devices.warm, devices.drop))
        if condition.held_on is not None:
            ways.append(_Way(True, True, False, down & (condition.held_on > 0), devices.ohms, devices.drop))
        self._lay_out(ways)

    def _lay_out(self, ways: list[_Way]) -> None:
        """Set each branch of these ways: its two wires, siemens, knee in volts, and the place that it passes."""
        senses, drives = self.shape
        places = [way.there.ravel().nonzero()[0] for way in ways]
        at = np.concatenate(places)
        sensed, driven = at // drives, senses + at % drives
        self.top, self.bottom = driven.copy(), sensed.copy()
        self.sign, self.warm = np.ones(len(at)), np.zeros(len(at))
        self.conductance, self.knee = np.empty(len(at)), np.empty(len(at))
        end = 0
        for way, those in zip(ways, places, strict=True):
            run = slice(end, end := end + len(those))
            self.conductance[run] = 1 / way.ohms.ravel()[those]
            self.knee[run] = way.knee.ravel()[those]
            if way.to_ground:
                self.bottom[run] = senses + drives
            if way.warm:
                self.sign[run], self.warm[run] = 0.0, 1.0
            if not way.from_driven:
                self.top[run], self.bottom[run], self.sign[run] = sensed[run], driven[run], -1.0
        self.at_place = np.zeros((len(at), senses * drives))
        self.at_place[np.arange(len(at)), at] = 1.0
        self.meets = (self.wires[:, self.top] - self.wires[:, self.bottom]).T

    def _bounds(self, condition: Condition, fed: Floats, sunk: Floats) -> None:
        """Set `held[problem, wire]`: the volts of wires that are fed, sunk or at ground; 0.0 where a wire floats."""
        senses, drives = self.shape
        held = np.empty((len(fed), senses + drives + 1))
        held[:, :senses] = np.where(sunk > 0, 0.0, FLOATING)
        held[:, senses:-1] = np.where(fed > 0, self.volts, FLOATING)
        held[:, [senses + column for column in condition.earthed]] = 0.0
        held[:, -1] = 0.0
        self.free = (held >= 0) @ self.wires.T == 0
        for node in self.wires > 0:
            if node.sum() > 1:
                held[:, node] = held[:, node].max(axis=1, keepdims=True)
        held[self.free @ self.wires > 0] = 0.0
        self.held = held
        carries = held >= 0
        self.active = carries[:, self.top] & carries[:, self.bottom]

    def solve(self) -> tuple[Floats, Floats]:
        """Find the operating point by damped Newton steps on the floating wires.

        Returns amperes by (problem, sensed, driven), and besides those through keep-warm resistors.
        """
        count, size = self.free.shape
        volts = np.where(self.free, self.volts / 2, 0.0)
        conductance = self.conductance * self.active
        pairs = (self.meets[:, :, None] * self.meets[:, None, :]).reshape(len(self.meets), -1)
        free = self.free.astype(np.float64)
        own = (np.eye(size) * np.where(self.free, LEAK, 1.0)[:, :, None]).reshape(count, -1)
        both_free = (free[:, :, None] * free[:, None, :]).reshape(count, -1)
        held = self.held[:, self.top] - self.held[:, self.bottom] - self.knee
        ends = self.meets.T
        for _ in range(STEPS):
            through, slope = knee(held + volts @ ends)
            out = (conductance * through) @ self.meets + LEAK * volts
            jacobian = ((conductance * slope) @ pairs) * both_free + own
            step = solved(jacobian, out * free)
            volts -= np.minimum(np.maximum(step, -self.volts), self.volts)
            if np.abs(step).max() < SMALL_STEP:
                break
        amperes = conductance * knee(held + volts @ ends)[0]
        by_place = self._by_place(amperes * self.sign)
        return by_place, self._by_place(amperes * self.warm) if self.warm.any() else np.zeros_like(by_place)

    def _by_place(self, amperes: Floats) -> Floats:
        """Sum amperes by (problem, branch) to (problem, sensed, driven)."""
        return (amperes @ self.at_place).reshape(len(amperes), *self.shape)


class _Way(NamedTuple):
    """Branches of one sort.

    `from_driven`: down from the driven wire, else up from the sensed one. `to_ground`: on to ground. `warm`: through a
    keep-warm resistor. By place: `there`, where they are; `ohms`; `knee`, in volts.
    """

    from_driven: bool
    to_ground: bool
    warm: bool
    there: Bools
    ohms: Floats
    knee: Floats


def _joined(wanted: set[int], pairs: tuple[tuple[int, int], ...]) -> tuple[list[int], Floats]:
    """Return the wanted wires with all that touch them, and which make one node, (node, wire) as 0.0 or 1.0."""
    groups = [{wire} for wire in sorted(wanted)]
    for pair in pairs:
        touching = [group for group in groups if group & set(pair)]
        if touching:
            groups = [group for group in groups if group not in touching]
            groups.append(set(pair).union(*touching))
    wires = sorted(set().union(*groups))
    return wires, np.array([[float(wire in group) for wire in wires] for group in groups])


def knee(volts: Floats) -> tuple[Floats, Floats]:
    """Return the volts beyond a diode's knee, rounded, and the slope."""
    root = volts * volts
    root += 4 * ROUNDING**2
    np.sqrt(root, out=root)
    beyond = volts + root
    beyond /= 2
    return beyond, beyond / root


def solved(matrices: Floats, right: Floats) -> Floats:
    """Return x[n] of `matrices[n]`, row after row, times x[n] equals `right[n]`; of two unknowns by determinants.

    One odd diode has two.
    """
    count, size = right.shape
    if size != 2:
        square = matrices.reshape(count, size, size)
        return np.linalg.solve(square, right[:, :, None])[:, :, 0].astype(np.float64, copy=False)
    a, b, c, d = matrices.T
    first, second = right.T
    found = np.empty_like(right)
    found[:, 0] = d * first - b * second
    found[:, 1] = a * second - c * first
    found /= (a * d - b * c)[:, None]
    return found
