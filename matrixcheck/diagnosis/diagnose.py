"""The diagnosis of one machine: readings and findings in, ranked explanations and what to do next out.

The search is bounded by work and not by the clock: the same readings give the same answer whatever else the computer
does. It goes on in rounds, each with more work than the one before, and each gives a diagnosis.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from functools import partial
from time import perf_counter
from typing import NamedTuple

from matrixcheck.diagnosis.advice.advise import advise, lighting_that_stays_lit
from matrixcheck.diagnosis.advice.predictor import Remembered
from matrixcheck.diagnosis.explanation.alternatives import Alternatives
from matrixcheck.diagnosis.explanation.assemble import assemble, with_shares
from matrixcheck.diagnosis.explanation.cell_states import cell_states, private_chances
from matrixcheck.diagnosis.explanation.combine import DIGITS, Region
from matrixcheck.diagnosis.explanation.explanations import explanations_of
from matrixcheck.diagnosis.explanation.unrivalled import with_plain_causes, without_sound_coils
from matrixcheck.diagnosis.inference.beam.solution import solve as solve_by_beam
from matrixcheck.diagnosis.inference.beam.tables import Tables
from matrixcheck.diagnosis.inference.candidate_weighing import problem_of
from matrixcheck.diagnosis.inference.exact.solution import solve as solve_exactly
from matrixcheck.diagnosis.inference.exact.solve import is_marks_alone
from matrixcheck.diagnosis.inference.kept import Kept, Pool
from matrixcheck.diagnosis.inference.likelihood import Subject
from matrixcheck.diagnosis.inference.posterior import Solution
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.regions import coupled_matrices, split_regions
from matrixcheck.diagnosis.inference.unknown_breaks import drawn_breaks
from matrixcheck.diagnosis.inference.work import Work, never
from matrixcheck.diagnosis.machine.priors import Rates, shipped_rates
from matrixcheck.diagnosis.result import Diagnosis, Explanation, Fault, Searched, Suspect
from matrixcheck.diagnosis.words.sentences import LARGE_GAP, suspect_sentence
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading

Clock = Callable[[], float]

WEIGHING, SEARCH, EXPLAINING = 40e6, 30e6, 30e6
"""Work for the single faults of matrices that hang together, for the search of a region, and for its explanations, in
units of `Work`: some 3 s in all where a region uses it up. Halved or doubled: no answer of 15 moves."""
ROUNDS = (1 / 8, 1.0)
"""Shares of the search and its explanations after which there is an answer to look at."""
MOST_KEPT_CHANGES = 2**20
"""Tables are shared by rounds where the items change no more places than this, in all: they take some 50 MB."""
SAME = 1e-9
"""Explanations whose probabilities differ by less are as probable as each other."""


def diagnose(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding] = (),
    seconds: float | None = None,
    clock: Clock = perf_counter,
    *,
    rates: Rates | None = None,
) -> Diagnosis:
    """Return the most probable causes of what was read: the last of what `refine` gives."""
    (finished,) = refine(layout, readings, findings, Limit(seconds, clock), rates=rates, only_last=True)
    return finished


class Limit(NamedTuple):
    """Hold a limit in seconds that somebody asks for, None for none, and the clock that counts them.

    `dropped`: whether nobody waits for the answer any more, which ends the search without another diagnosis.
    """

    seconds: float | None = None
    clock: Clock = perf_counter
    dropped: Callable[[], bool] = never


def refine(
    layout: Layout,
    readings: Sequence[Reading],
    findings: Sequence[Finding] = (),
    limit: Limit | None = None,
    kept: KeptRegions | None = None,
    *,
    rates: Rates | None = None,
    only_last: bool = False,
) -> Iterator[Diagnosis]:
    """Yield better and better diagnoses, until one is finished (`searched.finished`).

    `readings` are those that still hold, in the order they were made; `findings` what bench checks and repairs said.
    With a `limit` the last diagnosis may be unfinished, or there may be none. `kept`: what earlier analyses of the same
    layout worked out; it saves work and changes no answer. `rates`: a workshop's own, else the shipped ones.
    `only_last`: nobody looks at what comes before the last diagnosis, which is the same without.

    Raises UsageError for readings of a matrix that isn't there.
    """
    seconds, clock, dropped = limit or Limit()
    started = clock()
    for reading in readings:
        layout.matrix(reading.matrix)
    stop = partial(_over, clock, started + seconds, dropped) if seconds is not None else dropped
    known: KeptRegions = Kept(layout) if kept is None else kept
    chances, found = rates or shipped_rates(), tuple(findings)
    pool = known.pool(found, chances)
    groups = coupled_matrices(known.subjects(readings, chances), pool.candidates)
    analysis = _Analysis(layout, readings, found, chances, stop, known, pool, groups)
    for number in range(len(ROUNDS) - 1 if only_last else 0, len(ROUNDS)):
        regions, complete = analysis.at(number)
        if dropped():
            return
        cut = stop()
        done = (complete or number == len(ROUNDS) - 1) and not cut
        yield analysis.answer(regions, round(clock() - started, 4), finished=done)
        if done or cut:
            return


def _over(clock: Clock, moment: float, dropped: Callable[[], bool]) -> bool:
    return dropped() or clock() > moment


class PreparedRegion(NamedTuple):
    """The problem of one region, with the tables that rounds share; of a large one there are none."""

    problem: Problem
    tables: Tables | None = None
    alternatives: Alternatives | None = None


class Weighed(NamedTuple):
    """The problems that a group of matrices was split into, and whether the work was enough to weigh every fault."""

    regions: tuple[PreparedRegion, ...]
    whole: bool


class SearchedGroup(NamedTuple):
    """The regions of a group of matrices after a round.

    `settled`: for each, whether no step of it ran out of work, so that it is the same after a round with more.
    `weighed`: whether there was work enough to weigh every fault, which no round has more for.
    """

    regions: tuple[Region, ...]
    settled: tuple[bool, ...]
    weighed: bool = True

    @property
    def complete(self) -> bool:
        """Return whether none of the regions had use for more work."""
        return self.weighed and all(self.settled)


KeptRegions = Kept[Weighed, SearchedGroup, Remembered]
"""What is kept of each group of matrices: its problems, and its regions after each round. What was predicted for advice
is kept besides."""


def _names(group: Sequence[Subject]) -> tuple[str, ...]:
    return tuple(subject.frame.matrix.id for subject in group)


class _Analysis(NamedTuple):
    layout: Layout
    readings: Sequence[Reading]
    findings: tuple[Finding, ...]
    rates: Rates
    stop: Callable[[], bool]
    kept: KeptRegions
    pool: Pool
    groups: tuple[tuple[Subject, ...], ...]

    def at(self, number: int) -> tuple[tuple[Region, ...], bool]:
        """Return the regions, searched with the work of this round; and whether none of them had use for more."""
        regions: list[Region] = []
        complete = True
        for group in self.groups:
            found = self._known(group, number) or self._searched(group, number)
            if not self.stop():
                self.kept.found.put((_names(group), number), self._key(group), found)
            regions += found.regions
            complete = complete and found.complete
        return tuple(regions), complete

    def _known(self, group: Sequence[Subject], number: int) -> SearchedGroup | None:
        return self.kept.found.get((_names(group), number), self._key(group))

    def _key(self, group: Sequence[Subject]) -> Hashable:
        return tuple(subject.key for subject in group), self.findings, self.rates.key

    def _searched(self, group: tuple[Subject, ...], number: int) -> SearchedGroup:
        """Return the regions of matrices that hang together; those that the round before settled stay as they are."""
        before, share = self._known(group, number - 1), ROUNDS[number]
        if is_marks_alone(group):
            return before if before and all(before.settled) else self._marks_searched(group, share)
        weighed, whole = self._weighed(group)
        regions: list[Region] = []
        settled: list[bool] = []
        for place, each in enumerate(weighed):
            if before and before.settled[place]:
                regions.append(before.regions[place])
                settled.append(True)
                continue
            searching, explaining = Work(SEARCH * share, self.stop), Work(EXPLAINING * share, self.stop)
            solution = solve_by_beam(each.problem, searching, each.tables)
            regions.append(Region(solution, explanations_of(solution, explaining, each.alternatives)))
            settled.append(not (searching.short or explaining.short))
        return SearchedGroup(tuple(regions), tuple(settled), whole)

    def _marks_searched(self, group: tuple[Subject, ...], share: float) -> SearchedGroup:
        """Return the regions of matrices that were read by marks alone."""
        searching = Work(SEARCH * share, self.stop)
        solutions = solve_exactly(
            self.layout,
            group,
            self._of(group),
            self.findings,
            rates=self.rates,
            work=searching,
            fits=self.kept.fits,
        )
        explaining = [Work(EXPLAINING * share, self.stop) for _ in solutions]
        regions = tuple(
            Region(one, explanations_of(one, work)) for one, work in zip(solutions, explaining, strict=True)
        )
        settled = tuple(not (searching.short or work.short) for work in explaining)
        return SearchedGroup(regions, settled)

    def _weighed(self, group: tuple[Subject, ...]) -> Weighed:
        """Return the problems of matrices that hang together, with their tables: once for all rounds."""
        place, key = _names(group), self._key(group)
        known = self.kept.weighed.get(place, key)
        if known is not None:
            return known
        work = Work(WEIGHING, self.stop)
        problem = problem_of(
            group,
            (*self.pool.candidates, *drawn_breaks(group, self.rates, self.pool.breaks)),
            work,
            self.kept.fits,
        )
        regions = split_regions(problem)
        large = sum(len(each.places) for item in problem.items for each in item.changes.values()) > MOST_KEPT_CHANGES
        found = Weighed(
            tuple(PreparedRegion(each, *(() if large else (Tables(each), Alternatives(each)))) for each in regions),
            not work.over,
        )
        if not self.stop():
            self.kept.weighed.put(place, key, found)
        return found

    def _of(self, group: Sequence[Subject]) -> list[Reading]:
        names = {subject.frame.matrix.id for subject in group}
        return [reading for reading in self.readings if reading.matrix in names]

    def answer(self, regions: Sequence[Region], seconds: float, *, finished: bool) -> Diagnosis:
        """Return what the regions come to, with what to do next."""
        searched = _share_searched([region.solution for region in regions], finished=finished)
        of_readings = self.rates.reading
        stays_lit = lighting_that_stays_lit(self.layout, self.readings, of_readings.lighting_always_lit)
        says = partial(self._says, stays_lit=stays_lit)
        explanations, suspects, shares, fitted = assemble(regions, says, searched)
        suspects, shares, fitted = without_sound_coils(self.layout, self.readings, suspects, shares, fitted)
        explanations, suspects = with_plain_causes(
            self.layout, self.readings, explanations, suspects, of_readings.ohms_right
        )
        suspects = with_shares(suspects, shares)
        tests, checks = advise(
            self.layout,
            self.readings,
            explanations,
            suspects,
            shares,
            rates=self.rates,
            fitted=fitted,
            remembered=self._remembered(),
        )
        private = {
            cell: chance
            for region in regions
            for cell, chance in private_chances(region.solution.problem, region.solution.posterior).items()
        }
        return Diagnosis(
            explanations=explanations,
            suspects=suspects,
            cells=cell_states(self.layout, self.readings, private),
            next=tests,
            checks=checks,
            searched=_searched([region.solution for region in regions], explanations, seconds, finished=finished),
        )

    def _remembered(self) -> Remembered:
        known = self.kept.advised.get("predictions", None)
        if known is None:
            known = Remembered()
            self.kept.advised.put("predictions", None, known)
        return known

    def _says(self, suspect: Suspect, stays_lit: Sequence[Fault]) -> str:
        return suspect_sentence(
            self.layout,
            suspect.members,
            suspect.explains,
            suspect.contradicts,
            suspect.untested,
            readings=self.readings,
            stays_lit=stays_lit,
        )


def missing_of(solutions: Sequence[Solution]) -> float | None:
    """Return the probability of all that was not searched, in any region; None where that isn't known."""
    kept = 1.0
    for solution in solutions:
        if solution.missing is None:
            return None
        kept *= 1 - solution.missing
    return 1 - kept


def _share_searched(solutions: Sequence[Solution], *, finished: bool) -> float:
    """Return the share of all sets that was searched, by which probabilities are lowered: 1 where little is missing.

    Of an upper bound on what is missing half is taken, as it lies anywhere below. What isn't known is taken for one
    half.
    """
    missing = missing_of(solutions)
    if finished and missing is not None and missing <= LARGE_GAP:
        return 1.0
    share = 1.0
    for solution in solutions:
        if solution.missing is None:
            share *= 0.5
        else:
            share *= 1 - solution.missing / 2 if solution.bounded else 1 - solution.missing
    return share


def _searched(
    solutions: Sequence[Solution], explanations: Sequence[Explanation], seconds: float, *, finished: bool
) -> Searched:
    """Return how far the search went. An explanation as probable as the best by symmetry is no rival of it."""
    missing = missing_of(solutions)
    first, *others = [explanation.probability for explanation in explanations]
    rivals = [other for other in others if first - other > SAME]
    proven = missing is not None and all(solution.proven for solution in solutions)
    exact = proven and first - max(rivals, default=0.0) > (missing or 0.0)
    gap = None if exact or missing is None else round(missing, DIGITS)
    return Searched(exact=exact, seconds=seconds, finished=finished, gap=gap)
