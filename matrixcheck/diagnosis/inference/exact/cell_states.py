"""What one cell shows under marks alone, from the flags that faults set upon it.

Where each cell is exercised by itself and judged by itself, a fault reaches a cell through the cell's own two lines and
its own wire only: the cell's state is a function of the flags of all faults together, joined by "or". The functions
here give the same as `forward.simulate.shows` does for exercises alone; tests hold the two together.

What flags can't say: a line that is crossed with another one leads that one's faults along. A crossing beside a
crossing, a grounded wire or a stuck driver of the same line is taken as each fault by itself would show.
"""

from __future__ import annotations

from enum import IntEnum, IntFlag
from functools import cache
from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from matrixcheck.diagnosis.machine.matrix_frame import Bools, Frame, Ints


class Flag(IntFlag):
    """What a fault does to a cell: to its driven line, to its sensed line, to its own wire, or to the whole bank.

    PARTED: its wire ends before the cell. MUTED: the logic no longer commands, or reads, the line. CHOSEN, UNCHOSEN: a
    stuck relay keeps the line's side on, or off. CUT: the cell lies beyond a break of its sensed line; CUT_DARK: of its
    driven line, so that no keep-warm current reaches it. EVERYTHING: the whole bank reads closed, but for inputs that
    are muted. FED: keep-warm current reaches the cell whatever its line does.
    """

    PARTED_DRIVEN = 1
    MUTED_DRIVEN = 2
    CROSSED_DRIVEN = 4
    GROUNDED_DRIVEN = 8
    STUCK_DRIVEN = 16
    UNCHOSEN = 32
    CHOSEN = 64
    PARTED_SENSED = 128
    MUTED_SENSED = 256
    CROSSED_SENSED = 512
    GROUNDED_SENSED = 1024
    STUCK_SENSED = 2048
    CUT = 4096
    CUT_DARK = 8192
    EVERYTHING = 16384
    FED = 32768


CODES = 65536
"""Codes of flags: every combination of the sixteen."""


class Shows(IntEnum):
    """What a cell shows: nothing, light (or contact), or a keep-warm glow, bright or faint."""

    NOTHING = 0
    LIGHT = 1
    GLOW = 2


class CellState(NamedTuple):
    """One of the states that a cell may be in.

    `exercised`, `resting`: what shows while the cell is exercised, and at rest. `single`: all that shows comes through
    its own device, so that a dead device leaves it dark. `fed_at_rest`: light shows when the cell is exercised, and
    would at rest if the device were stuck. (A stuck lamp whose row is open shows as well: marks alone pass over that.)
    """

    exercised: Shows
    resting: Shows
    single: bool
    fed_at_rest: bool


_NO_OR_YES = (False, True)
CELL_STATES = tuple(CellState(*each) for each in product(Shows, Shows, _NO_OR_YES, _NO_OR_YES))
"""Every state. A state's number, in tables and in arrays of states, is its place here."""
STATES = len(CELL_STATES)
EXERCISED: Ints = np.array([state.exercised for state in CELL_STATES], dtype=np.int64)
"""[state]: what shows while the cell is exercised (`Shows`)."""
RESTING: Ints = np.array([state.resting for state in CELL_STATES], dtype=np.int64)
"""[state]: what shows at rest (`Shows`)."""
SINGLE: Bools = np.array([state.single for state in CELL_STATES], dtype=bool)
"""[state]: whether all that shows comes through the cell's own device."""
FED_AT_REST: Bools = np.array([state.fed_at_rest for state in CELL_STATES], dtype=bool)
"""[state]: whether a stuck device would show at rest as well as when the cell is exercised."""


def _looks(exercised: Shows, resting: Shows) -> int:
    """Number the state that stands for all that look so."""
    return CELL_STATES.index(CellState(exercised, resting, single=False, fed_at_rest=False))


APPEARANCE: Ints = np.array([_looks(state.exercised, state.resting) for state in CELL_STATES], dtype=np.int64)
"""[state]: the number that all states share that look the same."""
DEAD_LOOK, STUCK_LOOK = _looks(Shows.NOTHING, Shows.NOTHING), _looks(Shows.LIGHT, Shows.LIGHT)
"""How a dead cell and a stuck cell look: nothing shows at any time, or light does."""
_NUMBER = np.arange(STATES, dtype=np.uint8).reshape(len(Shows), len(Shows), 2, 2)


class Site(NamedTuple):
    """What the state of a cell depends on besides faults.

    `kind`: of its matrix. `strings`: it is a lighting lamp. `warm`: it is an LED on a keep-warm resistor. `at_rest`:
    its driven line is live when nothing is commanded. `rests`: some driven line of the bank is.
    """

    kind: str
    strings: bool
    warm: bool
    at_rest: bool
    rests: bool


def sites_of(frame: Frame) -> dict[tuple[int, int], Site]:
    """Give the site of each fitted cell, by (sensed, driven)."""
    rest = frame.rest_slot
    lone = frame.is_strings and frame.shape[1] == 1
    return {
        place: Site(
            frame.kind,
            frame.is_strings,
            bool(frame.warm_leds[place]),
            lone or (rest >= 0 and place[1] == rest),
            lone or rest >= 0,
        )
        for place in frame.cells
    }


@cache
def effects(site: Site) -> NDArray[np.uint8]:
    """Work out the state of a cell at that site for every code of flags: [code], numbers of `CELL_STATES`."""
    codes = np.arange(CODES)

    def has(flags: Flag) -> Bools:
        found: Bools = (codes & int(flags)) > 0
        return found

    cut_dark = has(Flag.CUT_DARK) & ~(has(Flag.FED) & site.warm)
    works = ~(has(Flag.CUT) | cut_dark)
    reached = ~has(Flag.PARTED_SENSED | Flag.MUTED_SENSED | Flag.CROSSED_SENSED)
    commanded = ~has(Flag.PARTED_DRIVEN | Flag.MUTED_DRIVEN | Flag.CROSSED_DRIVEN)
    always = has(Flag.STUCK_DRIVEN) & ~has(Flag.PARTED_DRIVEN | Flag.CROSSED_DRIVEN)
    own = (commanded & ~has(Flag.UNCHOSEN)) | always
    if site.kind == "switch":
        own |= has(Flag.GROUNDED_DRIVEN)
        low = has(Flag.STUCK_SENSED) | (has(Flag.GROUNDED_SENSED) & reached)
        everything = has(Flag.EVERYTHING) & ~has(Flag.MUTED_SENSED)
        nothing = np.zeros(CODES, dtype=bool)
        by_itself, anyhow = works & reached & own & ~everything, low | everything
        shows = _Showing(by_itself | anyhow, nothing, anyhow, nothing)
        return _numbered(shows, by_itself & ~anyhow, by_itself)
    own &= ~has(Flag.GROUNDED_DRIVEN)
    always &= ~has(Flag.GROUNDED_DRIVEN)
    lit = ~cut_dark
    sunk = has(Flag.GROUNDED_SENSED) | (has(Flag.STUCK_SENSED) & ~has(Flag.PARTED_SENSED | Flag.CROSSED_SENSED))
    live, live_at_rest = _live(site, has(Flag.CROSSED_DRIVEN), has(Flag.CHOSEN), own, always)
    live &= ~has(Flag.GROUNDED_DRIVEN)
    live_at_rest &= ~has(Flag.GROUNDED_DRIVEN)
    at_rest = (live_at_rest if site.strings else sunk & live_at_rest) & works
    glow, glow_at_rest = np.zeros(CODES, dtype=bool), np.zeros(CODES, dtype=bool)
    if site.warm:
        glow = lit & live
        glow_at_rest = glow_at_rest if site.strings else lit & (live_at_rest | has(Flag.FED))
    shows = _Showing((works & reached & own) | (sunk & live & works), glow, at_rest, glow_at_rest)
    # A lighting lamp that is stuck is fed by another way.
    fed_at_rest = shows.lit if site.strings else shows.lit & live_at_rest
    return _numbered(shows, np.logical_or.reduce(shows), fed_at_rest)


def _live(site: Site, crossed: Bools, chosen: Bools, own: Bools, always: Bools) -> tuple[Bools, Bools]:
    """Say whether the cell's driven line is powered at some time while it is exercised, and at rest: [code] each.

    A crossed line is powered by the other one's command.
    """
    if site.kind == "lamp" and not site.strings:
        return own | crossed, own | crossed
    if site.at_rest:
        return own, own
    if site.rests:
        return own, always | crossed | (chosen & own)
    return own, always


class _Showing(NamedTuple):
    """Say by code whether light, or at least a glow, shows while the cell is exercised, and at rest: [code] each."""

    lit: Bools
    glow: Bools
    lit_at_rest: Bools
    glow_at_rest: Bools


def _numbered(shows: _Showing, single: Bools, fed_at_rest: Bools) -> NDArray[np.uint8]:
    """Number the states in which this shows, code by code; the others as in `CellState`: [code]."""
    exercised = np.where(shows.lit, Shows.LIGHT, np.where(shows.glow, Shows.GLOW, Shows.NOTHING))
    resting = np.where(shows.lit_at_rest, Shows.LIGHT, np.where(shows.glow_at_rest, Shows.GLOW, Shows.NOTHING))
    numbers: NDArray[np.uint8] = _NUMBER[exercised, resting, single.astype(int), fed_at_rest.astype(int)]
    return numbers


@cache
def alike(sites: tuple[Site, ...], flags: tuple[int, ...]) -> tuple[int, ...]:
    """Find for each flag the first of the flags that does the same; 0 where it does nothing.

    The same means: at all of these sites, beside any combination of the flags.
    """
    sets = np.zeros(1, dtype=np.int64)
    for flag in flags:
        sets = np.concatenate([sets, sets | flag])
    tables = [effects(site) for site in sites]
    found: list[int] = []
    for flag in flags:
        rivals = [0, *dict.fromkeys(one for one in found if one)]
        found.append(next((one for one in rivals if _same(tables, sets, one, flag)), flag))
    return tuple(found)


def _same(tables: list[NDArray[np.uint8]], sets: Ints, one: int, other: int) -> bool:
    return all(
        (table[sets | one] == table[sets | other]).all() and (table[sets | one] == table[sets | one | other]).all()
        for table in tables
    )
