"""What an analysis keeps is bounded, whatever is read: few bytes a fit, and no more of them than a bound allows."""

from __future__ import annotations

import random
from math import inf

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.diagnosis import evidence as evidence_module
from matrixcheck.diagnosis.difference import difference
from matrixcheck.diagnosis.explain import posterior_of
from matrixcheck.diagnosis.faults import candidates
from matrixcheck.diagnosis.fit_store import FitStore
from matrixcheck.diagnosis.likelihood import Fit
from matrixcheck.diagnosis.pool import Problem, problem_of, subjects_of
from matrixcheck.diagnosis.rates import shipped_rates
from matrixcheck.diagnosis.search import search
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading


def bank(kind: str, side: int) -> Layout:
    """An invented bank of that many rows and columns, and nothing known of its wiring."""
    row = ", ".join(f'"device {place}"' for place in range(side))
    rows = ", ".join(f"[{row}]" for _ in range(side))
    return parse_layout(
        f'format = 1\nname = "Invented Wall"\n[[matrix]]\nid = "m"\nkind = "{kind}"\ncells = [{rows}]', "x"
    )


def read_through(layout: Layout, dead: int, echoes: int, seed: int = 1) -> list[Reading]:
    """Every cell exercised once, with what answered; some are dead, and some show another one as well."""
    rng = random.Random(seed)
    cells = [cell.key for cell in layout.matrix("m").fitted]
    silent, echoing = set(rng.sample(cells, dead)), set(rng.sample(cells, echoes))
    readings = []
    for cell in cells:
        answered = ([] if cell in silent else [cell]) + ([rng.choice(cells)] if cell in echoing else [])
        readings.append(Reading(matrix="m", cell=cell, answered=tuple(dict.fromkeys(answered))))
    return readings


def problem(layout: Layout, readings: list[Reading]) -> Problem:
    """What the search works on."""
    rates = shipped_rates()
    return problem_of(subjects_of(layout, readings, rates), candidates(layout, rates), rates)


@given(st.lists(st.integers(0, 3), min_size=1, max_size=60), st.data())
def test_an_array_laid_out_again_is_as_it_was(usual: list[int], data: st.DataObject) -> None:
    now = data.draw(st.lists(st.integers(0, 3), min_size=len(usual), max_size=len(usual)))
    before, after = np.array(usual, dtype=np.uint8), np.array(now, dtype=np.uint8)
    found = difference(after, before)
    assert (found.laid_upon(before) == after).all()
    assert len(found.places) == int((before != after).sum())
    assert (found.digest == difference(before, before).digest) is (usual == now)


def fit(places: int) -> Fit:
    """A fit that differs in so many places."""
    usual = np.zeros(places + 1, dtype=np.uint8)
    changed = np.ones(places + 1, dtype=np.uint8)
    return Fit(0.0, np.zeros((2, 2)), np.zeros((2, 2)), usual, difference(changed, usual))


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 200)), max_size=40))
def test_a_store_keeps_the_latest_fits_within_its_bound(asked: list[tuple[int, int]]) -> None:
    store, latest = FitStore(most_bytes=2_000), {}
    for key, places in asked:
        one = latest[key] = fit(places)
        store.put(key, one)
        assert store.get(key) is one
        held = [each for name, each in latest.items() if store.get(name) is each]
        assert store.held_bytes == sum(each.size for each in held) <= 2_000
        assert len(store) == len(held)


def test_a_fit_larger_than_the_store_is_not_kept() -> None:
    store = FitStore(most_bytes=100)
    store.put("large", fit(1_000))
    assert (len(store), store.held_bytes, store.get("large")) == (0, 0, None)


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_a_search_that_forgets_every_fit_finds_the_same(kind: str) -> None:
    layout = bank(kind, 4)
    readings = read_through(layout, dead=3, echoes=2)
    usual, forgetful = problem(layout, readings), problem(layout, readings)._replace(known=FitStore(most_bytes=0))
    found, again = posterior_of(search(usual, inf)), posterior_of(search(forgetful, inf))
    assert len(forgetful.known) == 0
    assert [each.faults for each in again.sets] == [each.faults for each in found.sets]
    assert again.probabilities == pytest.approx(found.probabilities, rel=1e-9, abs=0)


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_readings_weighed_in_parts_weigh_the_same(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    layout = bank(kind, 5)
    readings = read_through(layout, dead=3, echoes=3)
    whole = problem(layout, readings)
    faults = [[item.lead for item in whole.items[place : place + 2]] for place in range(0, len(whole.items), 7)]
    (subject,) = whole.subjects
    at_once = [subject.fit(each) for each in faults]
    monkeypatch.setattr(evidence_module, "PART_PLACES", 100)
    assert len(list(subject.evidence.parts())) > 5
    for each, usual in zip(faults, at_once, strict=True):
        found = subject.fit(each)
        assert found.bare == pytest.approx(usual.bare, rel=1e-9, abs=1e-9)
        assert np.allclose(found.dead, usual.dead, rtol=1e-9, atol=1e-9)
        assert np.allclose(found.stuck, usual.stuck, rtol=1e-9, atol=1e-9)
        assert (found.state == usual.state).all()


def test_what_a_dead_cell_changes_takes_as_much_in_a_large_matrix_as_in_a_small_one() -> None:
    sizes = []
    for side in (4, 12):
        layout = bank("lamp", side)
        found = problem(layout, read_through(layout, dead=1, echoes=0))
        (dead,) = found.dead.values()
        sizes.append(sum(each.size for each in dead.changes.values()))
    assert sizes[0] == sizes[1] <= 64


def test_a_large_bank_with_many_dead_keeps_its_fits_within_the_bound() -> None:
    layout = bank("switch", 12)
    whole = problem(layout, read_through(layout, dead=40, echoes=4))
    dense = sum(subject.usual.nbytes for subject in whole.subjects)
    assert whole.known.held_bytes <= whole.known.most_bytes
    assert whole.known.held_bytes / len(whole.known) < dense / 4
