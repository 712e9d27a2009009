"""Put bench checks into the order of least expected effort, with changes of power and set-up reckoned in.

The effort of an order is the mean time until the fault is found: each fault waits for the first check that sees it.
Checks of one state (power, set-up, what is clipped on or unplugged for a test with the power on) stand together, and
within a state those with the same plugs off, so that a plug is pulled once. Inside such a block the next check is
always the one that finds most per minute of what is left, which is best where no two checks see the same fault
(Johnson 1956, Mitten 1960) and never more than four times the best otherwise (Feige, Lovasz, Tetali 2004; all
attributions from memory). Among blocks of states the order is the best of all.

Danger comes before all of it: shorted drivers and fuses are checked before anything that fires a coil. Then come the
checks of the power state that the machine is in, then those of the other, and last what a board must come out for.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from matrixcheck.diagnosis.advice.bench_checks.cautions import FIRST
from matrixcheck.diagnosis.result import BenchCheck, Fault

MOST_STATES = 7
"""So many states are put into the best order at once: the work more than doubles with each more."""


class State(NamedTuple):
    """How the machine stands: `rig` is what is clipped on, swapped or unplugged for a test with the power on."""

    power: bool = False
    setup: str = ""
    rig: str = ""


class _Block(NamedTuple):
    """Hold the checks of one state that come in the same stage."""

    stage: int
    state: State
    checks: tuple[BenchCheck, ...]


def state_of(check: BenchCheck) -> State:
    """Return the state of the machine that a check is made in."""
    return State(check.power, check.setup, check.prepare if check.power else "")


def change_minutes(before: State, after: State) -> float:
    """Return the minutes from one state to another: with the power on a plug comes off, or goes back, with it off."""
    cost = _table("change")
    changes = 1 if before.power is not after.power else 2 if before.power and before.rig != after.rig else 0
    opened = cost[after.setup] if after.setup and after.setup != before.setup else 0.0
    return changes * cost["power"] + opened


def in_work_order(checks: Sequence[BenchCheck], *, power_on: bool = False) -> tuple[BenchCheck, ...]:
    """Return the checks in the order of least expected effort; `power_on`: the machine is on at the start."""
    now, left = State(power=power_on), chances_of(checks)
    ranked = _ranked(_blocks(checks, power_on=power_on), left)
    found: list[BenchCheck] = []
    for first in range(0, len(ranked), MOST_STATES):
        for block in _best_order(ranked[first : first + MOST_STATES], now, left):
            found += _in_order(block.checks, left)
            now, left = block.state, _without(left, block.checks)
    return tuple(found)


def _blocks(checks: Sequence[BenchCheck], *, power_on: bool) -> list[_Block]:
    found: dict[tuple[int, State], list[BenchCheck]] = {}
    for check in checks:
        found.setdefault((_stage(check, power_on=power_on), state_of(check)), []).append(check)
    return [_Block(stage, state, tuple(its)) for (stage, state), its in found.items()]


def _ranked(blocks: Sequence[_Block], left: Mapping[Fault, float]) -> list[_Block]:
    """Return blocks by stage, and within a stage by what they find per minute."""
    gains = [sum(left.get(fault, 0.0) for fault in chances_of(block.checks)) for block in blocks]
    order = order_by_yield(gains, [sum(check.cost for check in block.checks) for block in blocks])
    return sorted((blocks[at] for at in order), key=lambda block: block.stage)


def _stage(check: BenchCheck, *, power_on: bool) -> int:
    if check.hazard in FIRST:
        return 0
    return 3 if check.setup == "board out" else 1 + (check.power is not power_on)


def expected_minutes(checks: Sequence[BenchCheck], *, power_on: bool = False) -> float:
    """Return what the faults wait for the first check that sees them, each minute weighed by their probability."""
    now, spent, total, left = State(power=power_on), 0.0, 0.0, chances_of(checks)
    for check in checks:
        spent += change_minutes(now, state_of(check)) + check.cost
        now = state_of(check)
        total += spent * sum(left.pop(fault, 0.0) for fault in check.splits)
    return total


def most_found(checks: Sequence[BenchCheck], left: Mapping[Fault, float] | None = None) -> tuple[BenchCheck, ...]:
    """Return the checks by what each finds per minute that none before it would; those that find no more by yield.

    `left`: the faults that are still looked for, all that the checks see where they are not given.
    """
    now = dict(chances_of(checks) if left is None else left)
    ranks = [_rank(check, now) for check in checks]
    seeing: dict[Fault, list[int]] = {}
    for at, check in enumerate(checks):
        for fault in check.splits:
            seeing.setdefault(fault, []).append(at)
    rest, found = list(range(len(checks))), []
    while rest:
        best = min(rest, key=ranks.__getitem__)
        rest.remove(best)
        found.append(checks[best])
        seen = [fault for fault in checks[best].splits if now.pop(fault, None) is not None]
        for at in {at for fault in seen for at in seeing[fault]}:
            ranks[at] = _rank(checks[at], now)
    return tuple(found)


def by_worth(checks: Sequence[BenchCheck]) -> list[BenchCheck]:
    """Return checks by which to begin with where no other work waits: danger first, then what finds most per minute.

    The minutes count the change from a machine that is off and closed.
    """

    def rank(check: BenchCheck) -> tuple[bool, float]:
        minutes = check.cost + change_minutes(State(), state_of(check))
        return check.hazard not in FIRST or not check.splits, -round(check.probability / minutes, 9)

    return sorted(checks, key=rank)


def chances_of(checks: Collection[BenchCheck]) -> dict[Fault, float]:
    """Return the probability of each fault that any of the checks sees."""
    return {fault: chance for check in checks for fault, chance in zip(check.splits, check.chances, strict=True)}


def check_minutes() -> Mapping[str, float]:
    """Return the minutes of each kind of check, without changes."""
    return _table("minutes")


def order_by_yield(probabilities: Sequence[float], minutes: Sequence[float]) -> tuple[int, ...]:
    """Return indices of checks that see different faults by falling probability over effort."""
    rank = [-round(chance / effort, 9) for chance, effort in zip(probabilities, minutes, strict=True)]
    return tuple(sorted(range(len(rank)), key=rank.__getitem__))


def _rank(check: BenchCheck, left: Mapping[Fault, float]) -> tuple[float, float, bool]:
    gain = sum(left.get(fault, 0.0) for fault in check.splits)
    return -round(gain / check.cost, 9), -round(check.probability / check.cost, 9), check.power


def _without(left: Mapping[Fault, float], checks: Collection[BenchCheck]) -> dict[Fault, float]:
    found = dict(left)
    for check in checks:
        for fault in check.splits:
            found.pop(fault, None)
    return found


def _in_order(checks: Sequence[BenchCheck], left: Mapping[Fault, float]) -> tuple[BenchCheck, ...]:
    """Return the checks of one state in their order: those with the same plugs off together, best of these first."""
    by_plugs: dict[tuple[str, ...], list[BenchCheck]] = {}
    for check in checks:
        by_plugs.setdefault(check.plugs, []).append(check)
    groups = [most_found(alike, left) for alike in by_plugs.values()]
    gains = [sum(left.get(fault, 0.0) for fault in chances_of(group)) for group in groups]
    order = order_by_yield(gains, [sum(check.cost for check in group) for group in groups])
    return tuple(check for at in order for check in groups[at])


def _waiting(checks: Sequence[BenchCheck], left: Mapping[Fault, float]) -> float:
    now, total = dict(left), 0.0
    for check in checks:
        total += check.cost * sum(now.values())
        for fault in check.splits:
            now.pop(fault, None)
    return total


def _best_order(blocks: Sequence[_Block], start: State, left: Mapping[Fault, float]) -> list[_Block]:
    """Return the order in which the faults wait least, stage by stage, by a walk over all sets (Held and Karp 1962)."""
    everything = (1 << len(blocks)) - 1

    @cache
    def still(done: int) -> dict[Fault, float]:
        return _without(left, [check for at, block in enumerate(blocks) if done >> at & 1 for check in block.checks])

    @cache
    def within(done: int, at: int) -> float:
        now = still(done)
        return _waiting(_in_order(blocks[at].checks, now), now)

    @cache
    def least(done: int, last: int) -> tuple[float, tuple[int, ...]]:
        if done == everything:
            return 0.0, ()
        before = start if last < 0 else blocks[last].state
        waiting = [at for at in range(len(blocks)) if not done >> at & 1]
        stage = min(blocks[at].stage for at in waiting)
        ways = []
        for at in waiting:
            if blocks[at].stage == stage:
                rest, order = least(done | 1 << at, at)
                own = sum(still(done).values()) * change_minutes(before, blocks[at].state) + within(done, at)
                ways.append((round(own + rest, 9), (at, *order)))
        return min(ways)

    return [blocks[at] for at in least(0, -1)[1]]


@cache
def _table(name: str) -> Mapping[str, float]:
    data = tomllib.loads(files("matrixcheck.diagnosis.advice.bench_checks").joinpath("checks.toml").read_text("utf-8"))
    return {key: float(minutes) for key, minutes in data[name].items()}
