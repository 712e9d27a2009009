"""How well a set of faults accounts for the readings, every cell's private causes summed out.

For a set of shared faults the forward model says what shows. Each cell may besides be dead or stuck for a reason of its
own; both are weighed against the same readings and summed, which is exact as long as two private causes don't meet in
one place of one reading.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from math import log
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.exercises import Exercises
from matrixcheck.diagnosis.evidence.observations import DARK, FAINT, GLOW, LIT, Evidence
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Condition, Fuse, Setting, condition_of
from matrixcheck.diagnosis.forward.simulate import Shown, either, pull_of, shows
from matrixcheck.diagnosis.inference.difference import Difference, difference
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.matrix_frame import Floats, Frame, States, through
from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey

RULED_OUT = 100.0
"""Nats against a dead device beside an odd diode: what leads round through the diode would be gone with it."""


class Private(NamedTuple):
    """Chances that a cell is dead or stuck for a reason of its own, by (sensed, driven)."""

    dead: Floats
    stuck: Floats


class Fit(NamedTuple):
    """`bare`: log-likelihood without private causes. `dead`, `stuck`: what a private cause in each cell would add to
    it. `usual`, `differs`: what the forward model predicts of a healthy machine, and where it predicts something else
    now."""

    bare: float
    dead: Floats
    stuck: Floats
    usual: States
    differs: Difference

    @property
    def state(self) -> States:
        """[sensed, exercise, driven]: what the forward model predicts, DARK, FAINT, LIT or GLOW; not to be written
        to."""
        return self.differs.laid_upon(self.usual)

    @property
    def size(self) -> int:
        """Bytes that the fit takes besides what all of a matrix share."""
        return self.dead.nbytes + self.stuck.nbytes + self.differs.size

    def log(self, private: Private) -> float:
        """Log-likelihood with private causes summed out."""
        return self.bare + float(np.log1p(self._either(private)).sum())

    def posterior(self, private: Private) -> Private:
        """The chances of a private cause in each cell, given the readings and these faults."""
        total = 1 + self._either(private)
        dead = private.dead * np.exp(np.minimum(self.dead, 600)) / total
        stuck = private.stuck * np.exp(np.minimum(self.stuck, 600)) / total
        return Private(dead, stuck)

    def _either(self, private: Private) -> Floats:
        dead = private.dead * np.expm1(np.minimum(self.dead, 600))
        return dead + private.stuck * np.expm1(np.minimum(self.stuck, 600))


class Subject(NamedTuple):
    """One matrix with its readings, ready to be compared with fault sets. `usual[sensed, exercise, driven]`: what a
    healthy one would show. `scope`: the cells that the readings are about, None for all of the matrix. `key`: tells it
    from other readings of the same matrix where fits of both are kept."""

    frame: Frame
    evidence: Evidence
    usual: States
    scope: frozenset[CellKey] | None = None
    key: Hashable = None

    def within(self, cells: frozenset[CellKey]) -> Subject:
        """The same matrix with what was read of some of its cells only."""
        mask = np.zeros(self.frame.shape, dtype=np.bool_)
        for cell in cells:
            if cell.matrix == self.frame.matrix.id:
                mask[self.frame.at(cell)] = True
        return self._replace(evidence=self.evidence.within(mask), scope=cells, key=(self.key, cells))

    @property
    def cells(self) -> dict[tuple[int, int], Cell]:
        """The fitted cells by (sensed, driven) that the readings are about."""
        if self.scope is None:
            return self.frame.cells
        return {place: cell for place, cell in self.frame.cells.items() if cell.key in self.scope}

    def fit(self, faults: Iterable[Candidate], setting: Setting = USUAL) -> Fit:
        """How the readings of this matrix fit the faults; those of other matrices are passed over."""
        laid = tuple(faults)
        condition = condition_of(self.frame, laid, setting)
        dead, stuck, opened = (np.zeros(self.frame.shape) for _ in range(3))
        gained, changes, states = 0.0, 0, []
        for part in self.evidence.parts():
            shown, changed = self._shown(part, laid, condition, setting)
            told = weight_of(part, shown)
            if_dead, if_stuck = private_gains(self.frame, condition, part, shown, told)
            gained += float(told.sum())
            changes += changed
            dead += if_dead
            stuck += if_stuck
            opened += _as_opened(part.exercises, told)
            states.append(state_of(shown))
        for place in (*condition.shorted, *condition.reversed_):
            dead[place] = -RULED_OUT
        if self.frame.kind == "switch":
            _count_as_silent(self.evidence.exercises, opened, stuck)
        bare = self.evidence.base + gained + _of_the_fuse(self.evidence, condition, setting.fuse)
        state = states[0] if len(states) == 1 else np.concatenate(states, axis=1)
        return Fit(bare - changes * log(2), dead, stuck, self.usual, difference(state, self.usual))

    @property
    def lights_by_cell(self) -> bool:
        """Whether in a healthy matrix each place shows by one cell only, and no lamp is kept warm."""
        return self.frame.has_diodes and not self.frame.is_strings and not self.frame.warm_leds.any()

    def without(self, healthy: Fit, cells: Iterable[CellKey]) -> Fit:
        """The fit when just these cells do nothing, from that of a healthy matrix where each lights by itself."""
        dead, stuck, state = healthy.dead.copy(), healthy.stuck.copy(), healthy.usual.copy()
        gained = 0.0
        for sensed, driven in map(self.frame.at, cells):
            gained += float(dead[sensed, driven])
            dead[sensed, driven] = stuck[sensed, driven] = 0.0
            state[sensed, :, driven] = DARK
        return Fit(healthy.bare + gained, dead, stuck, self.usual, difference(state, self.usual))

    def shows(self, faults: Iterable[Candidate], setting: Setting = USUAL) -> States:
        """What these faults show in this matrix, DARK, FAINT, LIT or GLOW; less work than a fit."""
        laid = tuple(faults)
        condition = condition_of(self.frame, laid, setting)
        states = [state_of(self._shown(part, laid, condition, setting)[0]) for part in self.evidence.parts()]
        return states[0] if len(states) == 1 else np.concatenate(states, axis=1)

    def _shown(
        self, evidence: Evidence, faults: Sequence[Candidate], condition: Condition, setting: Setting
    ) -> tuple[Shown, int]:
        """What shows in the exercises of some of the evidence; and in how many of these a loose fault could have shown
        and may not have. In each of them it is taken to be there or not, whichever the reading speaks for: one way is
        as likely as the other (common practice, no source)."""
        there = shows(self.frame, condition, evidence.exercises)
        if setting.loose.isdisjoint(faults):
            return there, 0
        lasting = [fault for fault in faults if fault not in setting.loose]
        gone = shows(self.frame, condition_of(self.frame, lasting, setting), evidence.exercises)
        differ = ((state_of(there) != state_of(gone)) & evidence.known).any(axis=(0, 2))
        better = weight_of(evidence, gone).sum(axis=(0, 2)) > weight_of(evidence, there).sum(axis=(0, 2))
        return either(there, gone, better), int(differ.sum())


def subject_of(frame: Frame, evidence: Evidence) -> Subject:
    """A matrix with its readings."""
    bare = Subject(frame, evidence, np.zeros(0, dtype=np.uint8), key=frame.matrix.id)
    usual = bare.shows(())
    usual.flags.writeable = False
    return bare._replace(usual=usual)


def _of_the_fuse(evidence: Evidence, condition: Condition, fuse: Fuse) -> float:
    """Log-likelihood of what was said of a fuse: it went during a reading, or nobody said so (common practice, no
    source)."""
    takes_it = bool(condition.blowing) and fuse is not Fuse.HOLDS
    if evidence.blew:
        return log(0.9 if takes_it else 0.02)
    return log(0.5) if takes_it else 0.0


def state_of(shown: Shown) -> States:
    """What shows as one array: DARK, FAINT, LIT or GLOW."""
    state = shown.on * np.uint8(LIT)
    if shown.faint is not None:
        state[shown.faint] = FAINT
    if shown.glow is not None:
        state[shown.glow] = GLOW
    return state


def weight_of(evidence: Evidence, shown: Shown) -> Floats:
    """What each place adds to the log-likelihood, as it is predicted."""
    told = np.where(shown.on, evidence.gains(LIT), 0.0)
    if shown.faint is not None:
        told[shown.faint] = evidence.table[FAINT][evidence.code[shown.faint]]
    if shown.glow is not None:
        told[shown.glow] = evidence.table[GLOW][evidence.code[shown.glow]]
    return told


def private_gains(
    frame: Frame, condition: Condition, evidence: Evidence, shown: Shown, told: Floats
) -> tuple[Floats, Floats]:
    """What it would add to the log-likelihood if each cell were dead, or stuck, besides; by (sensed, driven).

    `told`: what each place adds as it is predicted.
    """
    besides = (evidence.gains(LIT) - told) * ~shown.on
    if shown.live is not None:
        besides *= shown.live
    gained = _over_exercises(besides)
    if evidence.exercises.alone:
        dead = np.where(shown.behind < 1.5, told, 0.0)[:, 0]
        stuck = gained * (shown.behind[:, 0] > 0.5)  # what nothing reaches shows nothing when it is stuck
    elif frame.kind == "switch":
        lost = np.where(shown.behind < 1.5, told, 0.0)
        dead = _behind(condition, lost, evidence.exercises.closed) * condition.works
        stuck = _onto(condition, gained) * condition.works
    else:
        dead = _over_exercises(told)
        stuck = gained * condition.works
    return -dead, stuck


def _over_exercises(told: Floats) -> Floats:
    """The sum over the exercises, as a product, which is quicker."""
    total: Floats = np.ones(told.shape[1]) @ told
    return total


def _as_opened(exercises: Exercises, told: Floats) -> Floats:
    """By (sensed, driven): what a switch that rests closed adds, as it is predicted, in the exercises that open it."""
    found = np.zeros((told.shape[0], told.shape[2]))
    for index in exercises.opened:
        sensed, driven = exercises.commanded[index]
        found[sensed, driven] += told[sensed, index, driven]
    return found


def _count_as_silent(exercises: Exercises, as_opened: Floats, stuck: Floats) -> None:
    """A switch that rests closed and is stuck shows what it shows anyway, and doesn't answer when it is opened."""
    for index in exercises.opened:
        place = exercises.commanded[index]
        stuck[place] = -as_opened[place]


def _behind(condition: Condition, lost: Floats, closed: Floats | States) -> Floats:
    """The weight of every place that only one closed switch shows, gathered at that switch."""
    if condition.sense is not None:
        lost = through(condition.sense.T, lost)
    pull = pull_of(condition, closed.shape[2])
    if pull is not None:
        lost = lost @ pull
    gathered: Floats = np.einsum("sed,sed->sd", lost, closed.astype(np.float64, copy=False))
    return gathered


def _onto(condition: Condition, gained: Floats) -> Floats:
    """The weight of every dark place that each switch would show if it were stuck. Where lines are joined, what speaks
    for that is credited to the switch at the place itself only: else two switches would claim it. Nothing shows on a
    line that is open."""
    pull = pull_of(condition, gained.shape[1])
    if condition.sense is None and pull is None:
        return gained
    harm, good = np.minimum(gained, 0.0), np.maximum(gained, 0.0)
    if condition.sense is not None:
        harm = condition.sense.T @ harm
        apart = _one_each(condition.sense)
        good = condition.sense.T @ good if apart else good * condition.sense.any(axis=1, keepdims=True)
    if pull is not None:
        harm = harm @ pull
        good = good @ pull if _one_each(pull) else good * pull.any(axis=1)
    return harm + good


def _one_each(reach: Floats) -> bool:
    """Whether each line end has one wire at most, and each wire one end."""
    return bool(reach.sum(axis=0).max() <= 1 and reach.sum(axis=1).max() <= 1)
