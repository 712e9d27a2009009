"""Weigh how well a fault set accounts for the readings, every cell's private causes summed out.

For a set of shared faults the forward model says what shows. Each cell may besides be dead or stuck for a reason of its
own; both are weighed against the same readings and summed, which is exact as long as two private causes don't meet in
one place of one reading.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from math import log, log1p
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.evidence.exercises import Exercises
from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.evidence.observations import Evidence
from matrixcheck.diagnosis.forward.bank_sneak_paths import Odd
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Condition, Fuse, Setting, condition_of
from matrixcheck.diagnosis.forward.simulate import Shown, either, pull_of, shows, work_out_ahead
from matrixcheck.diagnosis.inference.difference import Difference, difference
from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Frame, States, ones, through
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey

RULED_OUT = 100.0
"""Nats against a dead device in a cell with an odd diode: no current bypasses through it then, whatever was read.
Halved or doubled: no answer of 15 moves."""


class Private(NamedTuple):
    """Give the chances that a private cause makes a cell dead or stuck, by (sensed, driven)."""

    dead: Floats
    stuck: Floats


class Fit(NamedTuple):
    """Fit a fault set to the readings of one matrix.

    `bare`: log-likelihood without private causes. `dead`, `stuck`: nats that a private cause in each cell would add, by
    (sensed, driven). `usual[sensed, exercise, driven]`: the prediction for a healthy machine; `differs`: where the
    prediction differs from it.
    """

    bare: float
    dead: Floats
    stuck: Floats
    usual: States
    differs: Difference

    @property
    def state(self) -> States:
        """Return the prediction, [sensed, exercise, driven] of `Predicted`; not to be written to."""
        return self.differs.laid_upon(self.usual)

    @property
    def size(self) -> int:
        """Return the bytes that the fit takes besides what all of a matrix share."""
        return self.dead.nbytes + self.stuck.nbytes + self.differs.size

    def log(self, private: Private) -> float:
        """Return the log-likelihood with private causes summed out."""
        return self.bare + float(np.log1p(self._either(private)).sum())

    def posterior(self, private: Private) -> Private:
        """Return the chances of a private cause in each cell, given the readings and these faults."""
        total = 1 + self._either(private)
        dead = private.dead * np.exp(np.minimum(self.dead, 600)) / total
        stuck = private.stuck * np.exp(np.minimum(self.stuck, 600)) / total
        return Private(dead, stuck)

    def _either(self, private: Private) -> Floats:
        dead = private.dead * np.expm1(np.minimum(self.dead, 600))
        return dead + private.stuck * np.expm1(np.minimum(self.stuck, 600))


class Subject(NamedTuple):
    """Hold one matrix with its readings, ready to be compared with fault sets.

    `usual[sensed, exercise, driven]`: what a healthy one would show. `scope`: the cells that the readings are about,
    None for all of the matrix. `key`: distinguishes readings of one matrix where fits of several are kept. `earlier`:
    the matrices on fuses of this one that were read before it.
    """

    frame: Frame
    evidence: Evidence
    usual: States
    scope: frozenset[CellKey] | None = None
    key: Hashable = None
    earlier: frozenset[str] = frozenset()

    def within(self, cells: frozenset[CellKey]) -> Subject:
        """Return the same matrix with what was read of some of its cells only."""
        mask = np.zeros(self.frame.shape, dtype=np.bool_)
        for cell in cells:
            if cell.matrix == self.frame.matrix.id:
                mask[self.frame.at(cell)] = True
        return self._replace(evidence=self.evidence.within(mask), scope=cells, key=(self.key, cells))

    @property
    def cells(self) -> dict[tuple[int, int], Cell]:
        """Return the fitted cells that the readings are about, by (sensed, driven)."""
        if self.scope is None:
            return self.frame.cells
        return {place: cell for place, cell in self.frame.cells.items() if cell.key in self.scope}

    def fit(self, faults: Iterable[Candidate], setting: Setting = USUAL) -> Fit:
        """Return the fit of the faults to this matrix's readings; faults of other matrices are ignored."""
        laid = tuple(faults)
        condition = condition_of(self.frame, laid, setting)
        fitted = [self._fit_part(part, laid, condition, setting) for part in self.evidence.batches()]
        whole = fitted[0] if len(fitted) == 1 else _joined(fitted)
        for place in (*condition.shorted, *condition.reversed_):
            whole.dead[place] = -RULED_OUT
        if whole.opened is not None:
            _count_as_silent(self.evidence.exercises, whole.opened, whole.stuck)
        bare = self.evidence.base + whole.gained + _of_the_fuse(self.evidence, condition, setting.fuse)
        return Fit(bare - whole.spent, whole.dead, whole.stuck, self.usual, difference(whole.state, self.usual))

    def _fit_part(
        self, evidence: Evidence, faults: Sequence[Candidate], condition: Condition, setting: Setting
    ) -> _PartFit:
        shown, spent = self._shown(evidence, faults, condition, setting)
        weights = weight_of(evidence, shown)
        dead, stuck = private_gains(condition, evidence, shown, weights)
        opened = _as_opened(evidence.exercises, weights) if evidence.exercises.opened else None
        return _PartFit(float(weights.sum()), spent, dead, stuck, opened, state_of(shown))

    def work_out_ahead(self, faults: Iterable[Candidate], odd: Iterable[Candidate], setting: Setting = USUAL) -> None:
        """Work out at once what comes round through each of the odd diodes alone beside `faults`: fits will find it."""
        wanted = [
            Odd(self.frame.at(one.cells[0]), one.fault_class is FaultClass.DIODE_SHORTED)
            for one in odd
            if one.cells[0].matrix == self.frame.matrix.id
        ]
        if wanted:
            condition = condition_of(self.frame, faults, setting)
            for part in self.evidence.batches():
                work_out_ahead(self.frame, condition, part.exercises, wanted)

    @property
    def lights_by_cell(self) -> bool:
        """Return whether in a healthy matrix each place shows by one cell only, and no lamp is kept warm."""
        return self.frame.has_diodes and not self.frame.is_strings and not self.frame.any_warm

    def without(self, healthy: Fit, cells: Iterable[CellKey]) -> Fit:
        """Return the fit when just these cells do nothing, from the healthy fit; needs `lights_by_cell`."""
        silenced, gained = self._silenced(healthy, cells)
        places = ((self.usual != Predicted.DARK) & silenced[:, None, :]).ravel().nonzero()[0].astype(np.int32)
        dark = Difference(places, np.full(len(places), Predicted.DARK, dtype=np.uint8))
        dead, stuck = (np.where(silenced, 0.0, nats) for nats in (healthy.dead, healthy.stuck))
        return Fit(healthy.bare + gained, dead, stuck, self.usual, dark)

    def darkened(self, fit: Fit, cells: Iterable[CellKey]) -> Fit:
        """Return a fit of lamps or coils with these cells dark as well; see `problem.without_darkening`."""
        silenced, gained = self._silenced(fit, cells)
        dead, stuck = (np.where(silenced, 0.0, nats) for nats in (fit.dead, fit.stuck))
        state = np.where(silenced[:, None, :], np.uint8(Predicted.DARK), fit.state)
        return Fit(fit.bare + gained, dead, stuck, self.usual, difference(state, self.usual))

    def _silenced(self, fit: Fit, cells: Iterable[CellKey]) -> tuple[Bools, float]:
        """Return where these cells are, by (sensed, driven), and the nats that the fit gains if they are dead.

        A cell that two faults darken counts once.
        """
        silenced = np.zeros(self.frame.shape, dtype=np.bool_)
        gained = 0.0
        for place in dict.fromkeys(map(self.frame.at, cells)):
            gained += float(fit.dead[place])
            silenced[place] = True
        return silenced, gained

    def shows(self, faults: Iterable[Candidate], setting: Setting = USUAL) -> States:
        """Return the prediction for these faults, as `Predicted`, [sensed, exercise, driven]: less work than a fit."""
        laid = tuple(faults)
        condition = condition_of(self.frame, laid, setting)
        states = [state_of(self._shown(part, laid, condition, setting)[0]) for part in self.evidence.batches()]
        return states[0] if len(states) == 1 else np.concatenate(states, axis=1)

    def _shown(
        self, evidence: Evidence, faults: Sequence[Candidate], condition: Condition, setting: Setting
    ) -> tuple[Shown, float]:
        """Return what shows in the exercises of `evidence`, and what loose faults cost there, in nats.

        In each exercise in which it makes a difference the fault is there or not, whichever is likelier.
        """
        there = shows(self.frame, condition, evidence.exercises)
        if not setting.loose or setting.loose.isdisjoint(faults):
            return there, 0.0
        lasting = [fault for fault in faults if fault not in setting.loose]
        gone = shows(self.frame, condition_of(self.frame, lasting, setting), evidence.exercises)
        differ = ((state_of(there) != state_of(gone)) & evidence.known).any(axis=(0, 2))
        if_there, if_gone = log(evidence.rates.loose_fault_there), log1p(-evidence.rates.loose_fault_there)
        without, within = (weight_of(evidence, shown).sum(axis=(0, 2)) for shown in (gone, there))
        better = without + if_gone > within + if_there
        return either(there, gone, better), -float(np.where(better, if_gone, if_there)[differ].sum())


class _PartFit(NamedTuple):
    """Fit a fault set to a run of the exercises.

    `gained`: what the places add to the log-likelihood, in nats. `spent`: what loose faults cost. `dead`, `stuck`,
    `state`: as in `Fit`. `opened`: what switches that rest closed add as predicted where they are opened, None where
    none is.
    """

    gained: float
    spent: float
    dead: Floats
    stuck: Floats
    opened: Floats | None
    state: States


def _joined(parts: Sequence[_PartFit]) -> _PartFit:
    """Return runs of the exercises as one."""
    opened = [part.opened for part in parts if part.opened is not None]
    return _PartFit(
        sum(part.gained for part in parts),
        sum(part.spent for part in parts),
        np.sum([part.dead for part in parts], axis=0),
        np.sum([part.stuck for part in parts], axis=0),
        np.sum(opened, axis=0) if opened else None,
        np.concatenate([part.state for part in parts], axis=1),
    )


def subject_of(frame: Frame, evidence: Evidence) -> Subject:
    """Return a matrix with its readings."""
    bare = Subject(frame, evidence, np.zeros(0, dtype=np.uint8), key=frame.matrix.id)
    usual = bare.shows(())
    usual.flags.writeable = False
    return bare._replace(usual=usual)


def _of_the_fuse(evidence: Evidence, condition: Condition, fuse: Fuse) -> float:
    """Return the log-likelihood of what was recorded of a fuse: it blew during a reading, or nothing.

    Whether a grounded line takes its fuse the layout doesn't say.
    """
    rates = evidence.rates
    takes_it = bool(condition.blowing) and fuse is not Fuse.HOLDS
    if evidence.blew:
        return log(rates.fuse_seen_to_go if takes_it else rates.fuse_goes_by_itself)
    if not condition.blowing:
        return 0.0
    return log(rates.grounded_line_takes_its_fuse) if takes_it else log1p(-rates.grounded_line_takes_its_fuse)


def state_of(shown: Shown) -> States:
    """Return what shows as one array of `Predicted`, [sensed, exercise, driven]."""
    state = shown.on * np.uint8(Predicted.LIT)
    if shown.faint is not None:
        state[shown.faint] = Predicted.FAINT
    if shown.glow is not None:
        state[shown.glow] = Predicted.GLOW
    return state


def weight_of(evidence: Evidence, shown: Shown) -> Floats:
    """Return what each place adds to the log-likelihood as predicted, [sensed, exercise, driven], in nats."""
    weights = np.where(shown.on, evidence.log_weights(Predicted.LIT), 0.0)
    if shown.faint is not None:
        weights[shown.faint] = evidence.table[Predicted.FAINT][evidence.code[shown.faint]]
    if shown.glow is not None:
        weights[shown.glow] = evidence.table[Predicted.GLOW][evidence.code[shown.glow]]
    return weights


def private_gains(condition: Condition, evidence: Evidence, shown: Shown, weights: Floats) -> tuple[Floats, Floats]:
    """Return what each cell would add to the log-likelihood if it were dead, or stuck, by (sensed, driven), in nats.

    `weights[sensed, exercise, driven]`: what each place adds as predicted.
    """
    besides = evidence.log_weights(Predicted.LIT) - weights  # nothing where a place is lit anyway
    if shown.live is not None:
        besides *= shown.live
    gained = _over_exercises(besides)
    alone = evidence.exercises.alone
    reached = condition.works * shown.on[:, 0] if alone else condition.works  # what nothing reaches shows nothing
    if shown.redundant is None:
        return -_over_exercises(weights), gained * reached
    lost = np.where(shown.redundant, 0.0, weights)
    if alone:
        return -lost[:, 0], gained * reached
    dead = _behind(condition, lost, evidence.exercises.closed) * condition.works
    return -dead, _onto(condition, gained) * condition.works


def _over_exercises(weights: Floats) -> Floats:
    """Return the sum over the exercises, as a matrix product, which is faster."""
    total: Floats = ones(weights.shape[1]) @ weights
    return total


def _as_opened(exercises: Exercises, weights: Floats) -> Floats:
    """Return what a switch that rests closed adds as predicted in the exercises that open it, by (sensed, driven)."""
    found = np.zeros((weights.shape[0], weights.shape[2]))
    for index in exercises.opened:
        sensed, driven = exercises.commanded[index]
        found[sensed, driven] += weights[sensed, index, driven]
    return found


def _count_as_silent(exercises: Exercises, as_opened: Floats, stuck: Floats) -> None:
    """Set the gain of stuck switches that rest closed, in place: they show as always, and don't answer when opened."""
    for index in exercises.opened:
        place = exercises.commanded[index]
        stuck[place] = -as_opened[place]


def _behind(condition: Condition, lost: Floats, closed: Floats | States) -> Floats:
    """Return the weight of every place that only one closed switch shows, gathered at that switch."""
    if condition.sense is not None:
        lost = through(condition.sense.T, lost)
    pull = pull_of(condition, closed.shape[2])
    if pull is not None:
        lost = lost @ pull
    gathered: Floats = np.einsum("sed,sed->sd", lost, closed.astype(np.float64, copy=False))
    return gathered


def _onto(condition: Condition, gained: Floats) -> Floats:
    """Return the weight of every dark place that each switch would show if it were stuck.

    Where lines are joined, a gain is credited to the switch at the place itself only: else two switches would claim
    it. Nothing shows on an open line.
    """
    pull = pull_of(condition, gained.shape[1])
    if condition.sense is None and pull is None:
        return gained
    harm, good = np.minimum(gained, 0.0), np.maximum(gained, 0.0)
    if condition.sense is not None:
        harm = condition.sense.T @ harm
        one_each = _one_each(condition.sense)
        good = condition.sense.T @ good if one_each else good * condition.sense.any(axis=1, keepdims=True)
    if pull is not None:
        harm = harm @ pull
        good = good @ pull if _one_each(pull) else good * pull.any(axis=1)
    return harm + good


def _one_each(reach: Floats) -> bool:
    """Return whether each line end has one wire at most, and each wire one end."""
    return bool(reach.sum(axis=0).max() <= 1 and reach.sum(axis=1).max() <= 1)
