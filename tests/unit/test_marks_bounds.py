"""What searches of marks alone rest on, against every set of faults of small invented components: bounds that hold,
enumerations that say what they leave out, independent parts."""

from __future__ import annotations

from math import exp, inf, log
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.diagnosis.inference.exact import partition as partitions
from matrixcheck.diagnosis.inference.exact.best_first import search_best_first
from matrixcheck.diagnosis.inference.exact.bounds import Background, Terms, charges_of, gain_bounds, ranked
from matrixcheck.diagnosis.inference.exact.components import Component, changes_of
from matrixcheck.diagnosis.inference.exact.enumerate import enumerate_sets
from matrixcheck.diagnosis.inference.exact.explore import explore
from matrixcheck.diagnosis.inference.exact.fault_sets import Found, Tolerance
from matrixcheck.diagnosis.inference.exact.incidence import entries_of
from matrixcheck.diagnosis.inference.exact.incumbent import improved, incumbent
from matrixcheck.diagnosis.inference.exact.multipliers import multipliers_for
from matrixcheck.diagnosis.inference.exact.partition import Partition, partition
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.matrix_frame import Bools, Floats, Ints

DEAD, WORKING = 3.5, -4.0
"""What a cell gains, in nats, when a fault takes it."""
EVERY = Tolerance(1e-13, 1e-13, 60.0)


def unlimited() -> Work:
    return Work(inf)


def component_of(codes: Ints, gained: Floats, odds: Floats) -> Component:
    """A component with one flag: items by cells."""
    order = np.argsort(-(codes > 0).sum(axis=1), kind="stable")
    codes, odds = codes[order], odds[order]
    count = codes.shape[1]
    gains = np.stack([np.zeros(count), gained], axis=1)
    return Component(
        np.arange(count),
        gains,
        np.maximum(gains, gains[:, 1:]),
        codes,
        entries_of(codes),
        odds,
        tuple((item,) for item in range(len(codes))),
        np.zeros((len(codes), len(codes)), dtype=bool),
        (),
    )


def crossing(dead: list[bool], width: int, odds: list[float]) -> Component:
    """Rows and columns of a small matrix, whole ones and ends of them, where these cells are dead."""
    height = len(dead) // width
    cells = np.arange(len(dead)).reshape(height, width)
    stretches = [line[start:] for lines in (cells, cells.T) for line in lines for start in (0, 1) if len(line) > start]
    codes = np.zeros((len(stretches), len(dead)), dtype=np.int64)
    for row, stretch in zip(codes, stretches, strict=True):
        row[stretch] = 1
    likely = np.resize(np.array(odds), len(codes))
    return component_of(codes, np.where(dead, DEAD, WORKING), likely)


components = st.builds(
    crossing,
    st.lists(st.booleans(), min_size=9, max_size=9),
    st.just(3),
    st.lists(st.floats(-9, -1), min_size=1, max_size=12),
)


class Every(NamedTuple):
    """Every set of items: which are there [set, item], and log of the weight of each."""

    there: Bools
    weight: Floats

    @property
    def total(self) -> float:
        return float(np.logaddexp.reduce(self.weight))

    def of(self, items: tuple[int, ...]) -> float:
        return float(self.weight[sum(1 << item for item in items)])


def every_set(component: Component) -> Every:
    """Log of the weight of every set of items."""
    count = len(component.codes)
    there = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1 > 0
    taken = there.astype(np.int64) @ (component.codes > 0) > 0
    return Every(there, taken @ component.gains[:, 1] + there @ component.odds)


def marginals(component: Component, found: Found) -> Floats:
    """The chance of each item."""
    chances = np.zeros(len(component.codes))
    for one_set in found.sets:
        share = exp(one_set.weight - found.total)
        chances[list(one_set.items)] += share
        chances[list(one_set.free)] += share / (1 + np.exp(-component.odds[list(one_set.free)]))
    return chances


def exact(component: Component) -> Floats:
    every = every_set(component)
    chances: Floats = np.exp(every.weight - every.total) @ every.there
    return chances


@settings(max_examples=20)
@given(components)
def test_enumeration_and_best_first_search_find_what_every_set_weighs(component: Component) -> None:
    """Enumeration of all 4,096 sets of a 3x3 bank's row and column faults is the oracle, within 1e-9."""
    expected = exact(component)
    enumerated = enumerate_sets(component, -inf, unlimited(), EVERY.hopeless)
    assert enumerated is not None
    for found in (enumerated, search_best_first(component, unlimited(), EVERY)):
        assert found.total == pytest.approx(every_set(component).total, abs=1e-9, rel=0)
        np.testing.assert_allclose(marginals(component, found), expected, rtol=0, atol=1e-9)


@settings(max_examples=40)
@given(components, st.floats(1, 12))
def test_enumeration_leaves_out_no_more_than_it_says(component: Component, depth: float) -> None:
    found = enumerate_sets(component, incumbent(component).weight - depth, unlimited(), depth + 10)
    assert found is not None
    total = every_set(component).total
    assert found.total <= total + 1e-9
    assert np.logaddexp(found.total, found.missing) >= total - 1e-9
    every, listed = every_set(component), {one_set.items for one_set in found.sets}
    for at in np.flatnonzero(every.weight >= every.weight.max() - depth).tolist():
        items = tuple(np.flatnonzero(every.there[at]).tolist())
        assert items in listed or not _needed(component, items)


@settings(max_examples=40)
@given(components, st.floats(0, 200_000))
def test_a_search_that_runs_out_of_work_bounds_what_it_left_out(component: Component, limit: float) -> None:
    found = explore(component, Work(limit), EVERY)
    total = every_set(component).total
    assert found.total <= total + 1e-9
    assert np.logaddexp(found.total, found.missing) >= total - 1e-9


def _needed(component: Component, items: tuple[int, ...]) -> bool:
    """Whether each item takes a cell that no earlier one does."""
    taken = np.zeros(component.codes.shape[1], dtype=bool)
    for item in items:
        its = component.codes[item] > 0
        if taken[its].all():
            return False
        taken |= its
    return True


@settings(max_examples=40)
@given(components)
def test_multipliers_bound_the_weight_of_all_sets(component: Component) -> None:
    """Whatever the multipliers, and closer than counting every gain or every fault alone where these are far off."""
    ranks, good = ranked(component.group), incumbent(component)
    charge = charges_of(component.entries, ranks, len(component.cells))
    changes = changes_of(component, np.zeros(len(component.cells), dtype=np.int64), component.entries)
    borne = changes._replace(worse=changes.worse * charge[component.entries.place])
    chosen = np.zeros(len(component.codes), dtype=bool)
    chosen[list(good.items)] = True
    multipliers = multipliers_for(borne, component.odds, ranks, chosen, good.weight)
    idle = np.logaddexp(0.0, component.odds).sum()
    assert multipliers.bound + idle >= every_set(component).total - 1e-9
    assert multipliers.bound >= good.weight - 1e-9


@settings(max_examples=30)
@given(components, st.lists(st.floats(0, 1), min_size=9, max_size=9), st.booleans())
def test_what_faults_may_add_is_bounded_at_any_multipliers(
    component: Component, parts: list[float], borne: bool
) -> None:
    """For each fault: all sets that hold it, and those of it and later ones, faults of its own group left out."""
    ranks, count = ranked(component.group), len(component.cells)
    code = np.zeros(count, dtype=np.int64)
    charge = charges_of(component.entries, ranks, count) * borne
    changes = changes_of(component, code, component.entries)
    gain = changes.better + changes.worse
    bounds = gain_bounds(
        changes,
        gain,
        component.odds,
        Terms(np.array([parts]), charge[None]),
        ranks=ranks,
        background=Background(np.zeros(count, dtype=bool), np.zeros(1)),
    )
    others, later, every = bounds.with_others(), bounds.with_later(), every_set(component)
    of_group = np.eye(int(component.group.max()) + 1)[component.group]
    apart = (every.there @ of_group <= 1).all(axis=1)
    for item in range(len(component.codes)):
        held = every.there[:, item] & apart
        assert others[item] >= np.logaddexp.reduce(every.weight[held]) - 1e-9
        first = held & ~every.there[:, :item].any(axis=1)
        assert later[item] >= np.logaddexp.reduce(every.weight[first]) - 1e-9


def idle_in(component: Component, apart: Partition) -> float:
    """What faults that are in no part weigh beside any set, as a log."""
    kept = {member for part in apart.components for member in part.members}
    gone = [item for item, member in enumerate(component.members) if member not in kept]
    return float(np.logaddexp(0.0, component.odds[gone]).sum())


def test_two_crossing_lines_that_are_surely_open_are_partitioned(monkeypatch: pytest.MonkeyPatch) -> None:
    """An 8x8 bank with an open row and an open column: row and column have nothing to do with each other, and together
    they weigh what all sets do."""
    monkeypatch.setattr(partitions, "FEW", 2)
    cells = np.arange(64).reshape(8, 8)
    stretches = [line[start:] for line in (cells[2], cells[:, 5]) for start in range(6)]
    codes = np.zeros((len(stretches), 64), dtype=np.int64)
    for row, stretch in zip(codes, stretches, strict=True):
        row[stretch] = 1
    dead = [row == 2 or column == 5 for row in range(8) for column in range(8)]
    whole = component_of(codes, np.where(dead, DEAD, WORKING), np.full(len(codes), -5.0))
    apart = partition(whole, unlimited())
    assert len(apart.components) == 2
    theirs = [cell for part in apart.components for cell in part.cells.tolist()]
    assert len(theirs) == len(set(theirs))
    both = [incumbent(part).weight for part in apart.components]
    assert sum(both) == pytest.approx(improved(whole, incumbent(whole)).weight, abs=1e-9)
    found = explore(whole, unlimited(), EVERY)
    total = sum(explore(part, unlimited(), EVERY).total for part in apart.components) + idle_in(whole, apart)
    assert total == pytest.approx(found.total, abs=1e-3)
    assert apart.left_out < found.total - 10


@settings(max_examples=60)
@given(components)
def test_parts_weigh_together_what_the_whole_does(component: Component) -> None:
    """But for what is said to be left out, and for idle faults, which weigh the same beside every set."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(partitions, "FEW", 2)
        patch.setattr(partitions, "HOPELESS", 3.0)
        apart = partition(component, unlimited())
    total = sum(explore(part, unlimited(), EVERY).total for part in apart.components) + idle_in(component, apart)
    assert np.logaddexp(total, apart.left_out) >= every_set(component).total - 1e-6
    assert total <= np.logaddexp(every_set(component).total, apart.left_out + log(4)) + 1e-6


@settings(max_examples=60)
@given(components)
def test_an_incumbent_weighs_what_it_says(component: Component) -> None:
    good = incumbent(component)
    assert good.weight == pytest.approx(every_set(component).of(good.items), abs=1e-9)
    better = improved(component, good)
    assert better.weight >= good.weight
    assert better.weight == pytest.approx(every_set(component).of(better.items), abs=1e-9)
