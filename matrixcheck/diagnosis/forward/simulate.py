"""The forward model: what a matrix with given faults shows while given cells are exercised.

Conduction over the matrix's graph. Without odd diodes every closed switch pulls its own sensed line through its own
driven line only, and every commanded lamp or coil has just its own path, so that what shows is a product of three
arrays: inputs to wires, cells, drivers to wires. Shorted and reversed diodes and matrices without diodes open sneak
paths; `switch_sneak_paths` and `bank_sneak_paths` add what those show.

`shows` works on arrays for the search; `predict` on readings for everybody else.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from matrixcheck.diagnosis.evidence.exercises import Exercises, exercises_of
from matrixcheck.diagnosis.forward.bank_sneak_paths import Commands, Odd, drains, odd_diodes, operating_points
from matrixcheck.diagnosis.forward.coil_resistance import wrong_ohms
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Condition, Setting, condition_of
from matrixcheck.diagnosis.forward.sneaks_ahead import solve_ahead
from matrixcheck.diagnosis.forward.switch_sneak_paths import sneaks
from matrixcheck.diagnosis.machine.candidates import laid_out
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, identity, through
from matrixcheck.diagnosis.result import Fault, FaultClass
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading


class Shown(NamedTuple):
    """What shows, as arrays of booleans (sensed, exercises, driven).

    `on`; `faint` and `glow` (bright or faint, marks can't say), None where nothing is. `redundant`: inputs that read
    low whichever one switch is dead, as several make them, or something besides switches does; None of lamps and coils,
    each of which is dark when it is dead.
    `live[exercise, driven]`, 0.0 or 1.0: the driven lines that are powered meanwhile; None where all are, and in a
    switch matrix.
    """

    on: Bools
    faint: Bools | None
    glow: Bools | None
    redundant: Bools | None
    live: Floats | None = None


def shows(frame: Frame, condition: Condition, exercises: Exercises) -> Shown:
    """Return what the matrix in that condition shows during each exercise."""
    if exercises.alone:
        return _each_alone(frame, condition.after or condition, exercises)
    if frame.kind == "switch":
        shown = _switches(frame, condition, exercises)
        return _answering_when_opened(frame, condition, exercises, shown) if exercises.opened else shown
    if condition.after is not None:
        return _until_the_fuse_goes(frame, condition, exercises)
    return _lights(frame, condition, exercises)


def _switches(frame: Frame, condition: Condition, exercises: Exercises) -> Shown:
    if condition.everything is not None:
        low = _always_low(frame, condition)
        closed_all = np.broadcast_to(low[:, None, None], exercises.closed.shape).copy()
        return Shown(closed_all, None, None, closed_all)
    closed = exercises.closed * condition.works[:, None, :]
    if condition.held_on is not None:
        closed = np.maximum(closed, condition.held_on[:, None, :])
    count = closed
    pull = pull_of(condition, frame.shape[1])
    if pull is not None:
        count = count @ pull.T
    if condition.sense is not None:
        count = through(condition.sense, count)
    on, redundant = count > 0.5, count > 1.5
    if condition.always_sensed is not None:
        always = _always_low(frame, condition)[:, None, None]
        on |= always
        redundant |= always
    if condition.shorted or condition.reversed_ or not frame.has_diodes:
        leads = _leading_round(frame, condition, closed, exercises)
        direct = on
        on = sneaks(frame, condition, leads, identity(frame.shape[1]) if pull is None else pull, direct)
        redundant |= on & ~direct
    return Shown(on, None, None, redundant)


def _always_low(frame: Frame, condition: Condition) -> Bools:
    """Return the inputs that read low whatever is closed, by sensed line."""
    found = np.zeros(frame.shape[0])
    for low in (condition.everything, condition.always_sensed):
        found = found if low is None else np.maximum(found, low)
    return found > 0


def _answering_when_opened(frame: Frame, condition: Condition, exercises: Exercises, shown: Shown) -> Shown:
    """Return what shows where switches that rest closed are opened.

    Such a switch answers if it reads closed and, once it is opened, no longer does.
    """
    opened = exercises.only(exercises.opened)
    senses, drives = map(list, zip(*opened.commanded, strict=True))
    numbers = list(range(len(senses)))
    closed = opened.closed.copy()
    closed[senses, numbers, drives] = 0
    still = _switches(frame, condition, opened._replace(closed=closed)).on[senses, numbers, drives]
    on = shown.on.copy()
    on[senses, exercises.opened, drives] &= ~still
    return shown._replace(on=on, redundant=None if shown.redundant is None else shown.redundant & on)


def _leading_round(frame: Frame, condition: Condition, closed: Floats, exercises: Exercises) -> Floats:
    """Return the switches through which current can pass, (wire, exercise, wire) as 0.0 or 1.0.

    Besides those that work, they are those beyond a break, and those with a reversed diode where inputs would read what
    passes it: with a shorted one beside it, or on a line at ground, that is two drops.
    """
    more = np.zeros(frame.shape)
    for stub in condition.stubs:
        for place in stub.places.difference(condition.reversed_):
            more[place] = 1.0
    two_drops = bool(condition.shorted) or condition.sunk is not None
    reads = condition.high_inputs or (two_drops and not frame.fuse_reads_closed)
    for place in condition.reversed_ if reads else ():
        more[place] = 1.0
    return np.maximum(closed, exercises.closed * more[:, None, :])


def _each_alone(frame: Frame, condition: Condition, exercises: Exercises) -> Shown:
    """Return what every cell shows by its own command, and what is on at rest.

    No sneak path shows in marks alone.
    """
    plain = condition._replace(after=None, shorted=(), reversed_=())
    rest = shows(frame, plain, exercises.only([1]))
    drives = frame.shape[1]
    pull = pull_of(condition, drives)
    own_drive = np.ones(drives) if pull is None else pull.diagonal()
    own_sense = np.ones(frame.shape[0]) if condition.sense is None else condition.sense.diagonal()
    on = exercises.closed[:, 0] * condition.works * own_sense[:, None] * own_drive[None, :] > 0.5
    if frame.kind == "switch":
        low = np.broadcast_to(_always_low(frame, condition)[:, None], on.shape)
        on = np.stack([on | low, rest.on[:, 0]], axis=1)
        return Shown(on, None, None, np.stack([low, low], axis=1))
    live = own_drive if pull is None or not frame.is_scanned else pull.max(axis=0)
    always = np.zeros(frame.shape) if condition.held_on is None else condition.held_on.copy()
    if condition.sunk is not None:
        always = np.maximum(always, condition.sunk[:, None])
    on |= always * live[None, :] * condition.works > 0
    glow = (frame.warm_leds * condition.lit * live[None, :] > 0.5) & ~on
    glow = np.stack([glow, np.zeros_like(glow) if rest.glow is None else rest.glow[:, 0]], axis=1)
    # A lighting lamp that is stuck is fed by another way.
    fed = None if frame.is_strings else np.stack([live, np.ones(drives) if rest.live is None else rest.live[0]])
    return Shown(np.stack([on, rest.on[:, 0]], axis=1), None, glow, None, fed)


def _until_the_fuse_goes(frame: Frame, condition: Condition, exercises: Exercises) -> Shown:
    """Return what lamps or coils show in exercises one after the other, the fuse lasting until a grounded line is fed.

    A scanned bank feeds every line at once; behind a relay the fuse lasts until the grounded side is selected.
    """
    gone = np.cumsum(_feeding(condition, exercises)) > 0
    return _with_fuse_gone(frame, condition, exercises, gone)


def next_shown(frame: Frame, condition: Condition, exercises: Exercises) -> Shown:
    """Return what the matrix shows if each exercise by itself comes next after the earlier ones."""
    if condition.after is None or frame.kind == "switch":
        return shows(frame, condition, exercises)
    return _with_fuse_gone(frame, condition, exercises, _feeding(condition, exercises))


def _feeding(condition: Condition, exercises: Exercises) -> Bools:
    """Return which exercises feed a grounded wire."""
    return np.isin(exercises.slot, list(condition.blowing))


def _with_fuse_gone(frame: Frame, condition: Condition, exercises: Exercises, gone: Bools) -> Shown:
    """Return what shows with the fuse gone in these exercises; in all of them, where an earlier one took it."""
    before, after = condition._replace(after=None), condition.after
    if after is None or frame.kind == "lamp":
        return _lights(frame, after or before, exercises)
    gone = gone | (not condition.blowing.isdisjoint(exercises.earlier))
    return either(_lights(frame, before, exercises), _lights(frame, after, exercises), gone)


def either(usually: Shown, where: Shown, chosen: Bools) -> Shown:
    """Return `usually`, and `where` in the exercises in which `chosen[exercise]` is true."""
    nothing = np.zeros_like(usually.on)
    faint, glow = (
        None
        if a is None and b is None
        else np.where(chosen[:, None], nothing if b is None else b, nothing if a is None else a)
        for a, b in ((usually.faint, where.faint), (usually.glow, where.glow))
    )
    on = np.where(chosen[:, None], where.on, usually.on)
    redundant = None
    if where.redundant is not None and usually.redundant is not None:
        redundant = np.where(chosen[:, None], where.redundant, usually.redundant)
    return Shown(on, faint, glow, redundant, _either_live(usually.live, where.live, chosen))


def _either_live(usually: Floats | None, where: Floats | None, chosen: Bools) -> Floats | None:
    if usually is None and where is None:
        return None
    live: Floats = np.where(chosen[:, None], 1.0 if where is None else where, 1.0 if usually is None else usually)
    return live


def _lights(frame: Frame, condition: Condition, exercises: Exercises) -> Shown:
    pull = pull_of(condition, frame.shape[1])
    live = _live(frame, pull, condition, exercises)
    if frame.is_strings:
        return _strings(frame, condition, live)
    count: Floats = exercises.closed.astype(np.float64, copy=False)
    if pull is not None:
        count = count @ pull
    if condition.sense is not None:
        count = through(condition.sense.T, count)
    if condition.fed_directly is not None:
        led_fed = frame.warm_leds * condition.fed_directly
        count = np.maximum(count, led_fed[:, None, :] * _sunk(condition, exercises)[:, :, None])
    count = count * condition.works[:, None, :]
    on = count > 0.5
    always = condition.held_on
    if condition.sunk is not None:
        sinks = condition.sunk[:, None] * condition.works
        always = sinks if always is None else np.maximum(always, sinks)
    if always is not None:
        on |= always[:, None, :] * live[None] > 0
    glow = None
    if frame.any_warm:
        fed = live if condition.fed_directly is None else np.maximum(live, condition.fed_directly)
        glow = ((frame.warm_leds * condition.lit)[:, None, :] * fed[None] > 0.5) & ~on
    shown = Shown(on, None, glow, None, None if frame.is_scanned and pull is None else live)
    if condition.shorted or condition.reversed_:
        return _with_sneaks(frame, condition, exercises, pull, shown)
    return shown


def _sunk(condition: Condition, exercises: Exercises) -> Floats:
    """Return the sensed wires that the command of an exercise sinks, by (wire, exercise)."""
    commanded: Floats = exercises.closed.max(axis=2).astype(np.float64)
    return commanded if condition.sense is None else condition.sense.T @ commanded


def _strings(frame: Frame, condition: Condition, live: Floats) -> Shown:
    """Return what lighting strings show: all lamps of the strings that are fed.

    A lamp that is stuck on is fed by another way.
    """
    held_on = np.zeros(frame.shape) if condition.held_on is None else condition.held_on
    count = np.maximum(live[None], held_on[:, None, :]) * condition.works[:, None, :]
    on = count > 0.5
    return Shown(on, None, None, None)


def _with_sneaks(frame: Frame, condition: Condition, exercises: Exercises, pull: Floats | None, shown: Shown) -> Shown:
    """Add what glows and pulls through odd diodes.

    There is one operating point for each exercise, and for a scanned bank with a line or a device that always sinks,
    one for each slot besides.
    """
    odd = odd_diodes(frame, condition)
    if not odd:
        return shown
    drive = identity(frame.shape[1]) if pull is None else pull
    senses = frame.shape[0]
    faint, bright, glow = operating_points(frame, condition, odd, *_commanded(frame, condition, exercises, pull))
    if frame.kind == "lamp" and (condition.sunk is not None or condition.earthed or drains(condition)):
        always = np.zeros(senses) if condition.sunk is None else condition.sunk
        slots = operating_points(frame, condition, odd, drive, np.tile(always, (len(drive), 1)))
        faint = faint | slots.faint.any(axis=1, keepdims=True)
        bright = bright | slots.bright.any(axis=1, keepdims=True)
        glow = glow | slots.glow.any(axis=1, keepdims=True)
    on = shown.on | bright
    glow = (glow if shown.glow is None else glow | shown.glow) & ~on
    return Shown(on, faint & ~on & ~glow, glow, None, shown.live)


def work_out_ahead(frame: Frame, condition: Condition, exercises: Exercises, odd: Sequence[Odd]) -> None:
    """Work out at once what comes round through each of these odd diodes alone beside `condition`.

    It changes nothing but the work: `shows` finds it. In a condition with odd diodes or stuck devices, or a fuse that
    goes, nothing is done, nor where nothing comes round.
    """
    kept = condition.held_on is not None or condition.shorted or condition.reversed_ or condition.after is not None
    if kept or frame.kind == "switch" or frame.is_strings or exercises.alone:
        return
    pull = pull_of(condition, frame.shape[1])
    solve_ahead(frame, condition, odd, _commanded(frame, condition, exercises, pull))


def _commanded(frame: Frame, condition: Condition, exercises: Exercises, pull: Floats | None) -> Commands:
    """Return the wires that each exercise feeds, (exercise, driven), and those that it sinks, (exercise, sensed)."""
    senses, drives = frame.shape
    sinks = _as_built_or_none(senses) if condition.sense is None else _or_none(condition.sense)
    feeds = _as_built_or_none(drives) if pull is None else _or_none(pull)
    sunk = sinks[exercises.sunk]
    if condition.sunk is not None:
        sunk = np.maximum(sunk, condition.sunk)
    return Commands(feeds[exercises.slot], sunk)


def _or_none(lines: Floats) -> Floats:
    """Return what each command leads to, and last, for -1, what none does: nothing."""
    return np.concatenate([lines, np.zeros((1, lines.shape[1]))])


@cache
def _as_built_or_none(count: int) -> Floats:
    """Return the same for lines as built; not to be written to."""
    found = _or_none(identity(count))
    found.flags.writeable = False
    return found


def pull_of(condition: Condition, drives: int) -> Floats | None:
    """Return what is driven while each driven line is commanded, (command, wire); None as built."""
    if condition.drive is None and condition.always_driven is None:
        return None
    drive = identity(drives) if condition.drive is None else condition.drive
    return drive if condition.always_driven is None else np.maximum(drive, condition.always_driven[None, :])


def _live(frame: Frame, pull: Floats | None, condition: Condition, exercises: Exercises) -> Floats:
    """Return the wires that are powered at some time during each exercise, by (exercise, driven).

    One row stands for all exercises of a scanned bank. A single line is powered without a command as well: nothing
    switches it off.
    """
    if frame.is_scanned:
        powered: Floats = np.ones(frame.shape[1]) if pull is None else pull.max(axis=0)
        return powered[None]
    drive = identity(frame.shape[1]) if pull is None else pull
    always = np.zeros(len(drive)) if condition.always_driven is None else condition.always_driven
    at_rest = drive[0] if len(drive) == 1 else always
    live: Floats = np.concatenate([drive, at_rest[None]])[exercises.slot]
    return live


def predict(
    layout: Layout, faults: Sequence[Fault], exercises: Sequence[Reading], setting: Setting = USUAL
) -> tuple[Reading, ...]:
    """Return each exercise as a machine with these faults would answer it, in `answered` and `faint`.

    A lamp that a keep-warm resistor lights, bright or faint, stands under `answered`. A coil of the wrong sort shows in
    `ohms` alone. `setting`: what the layout doesn't say.
    """
    candidates = [laid_out(layout, fault) for fault in faults]
    odd = {cell for fault in faults if fault.fault is FaultClass.WRONG_DEVICE for cell in fault.cells}
    answers: list[Reading] = []
    frames = {matrix.id: Frame(matrix) for matrix in layout.matrices}
    conditions = {key: condition_of(frame, candidates, setting) for key, frame in frames.items()}
    for exercise in exercises:
        frame = frames[exercise.matrix]
        shown = shows(frame, conditions[frame.matrix.id], exercises_of(frame, [(exercise.cell, exercise.held)]))
        on = shown.on if shown.glow is None else shown.on | shown.glow
        update: dict[str, object] = {"answered": _cells(frame, on), "faint": _cells(frame, shown.faint), "mark": None}
        if exercise.cell in odd:
            update["ohms"] = wrong_ohms(frame.matrix.by_key[exercise.cell])
        answers.append(replace(exercise, **update))
    return tuple(answers)


def _cells(frame: Frame, shown: Bools | None) -> tuple[CellKey, ...]:
    if shown is None:
        return ()
    return tuple(sorted(frame.cell_at(int(s), int(d)) for s, d in np.argwhere(shown[:, 0, :])))
