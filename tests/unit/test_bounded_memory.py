"""What an analysis keeps is bounded, whatever is read: few bytes a fit, and no more of them than a bound allows."""

from __future__ import annotations

import gc
import random
import weakref
from math import inf
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence import observations as evidence_module
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.inference import candidate_weighing as weighing_module
from matrixcheck.diagnosis.inference.beam.solution import solve
from matrixcheck.diagnosis.inference.difference import difference
from matrixcheck.diagnosis.inference.kept import Kept
from matrixcheck.diagnosis.inference.problem import Problem
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.byte_store import ByteStore
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Mark, Reading
from tests.unit.posed_problem import posed


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
    return posed(layout, readings, rates, candidates(layout, rates))


@given(st.lists(st.integers(0, 3), min_size=1, max_size=60), st.data())
def test_an_array_laid_out_again_is_as_it_was(usual: list[int], data: st.DataObject) -> None:
    now = data.draw(st.lists(st.integers(0, 3), min_size=len(usual), max_size=len(usual)))
    before, after = np.array(usual, dtype=np.uint8), np.array(now, dtype=np.uint8)
    found = difference(after, before)
    assert (found.laid_upon(before) == after).all()
    assert len(found.places) == int((before != after).sum())
    assert (found.digest == difference(before, before).digest) is (usual == now)


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 900)), max_size=40))
def test_a_store_keeps_the_latest_values_within_its_bound(asked: list[tuple[int, int]]) -> None:
    store: ByteStore[tuple[int, int]] = ByteStore(most_bytes=2_000)
    latest: dict[int, tuple[int, int]] = {}
    for each in asked:
        latest[each[0]] = each
        store.put(each[0], each, size=each[1])
        assert store.get(each[0]) is each
        held = [value for key, value in latest.items() if store.get(key) is value]
        assert store.held_bytes == sum(size for _, size in held) <= 2_000
        assert len(store) == len(held)


def test_what_is_larger_than_the_store_is_not_kept() -> None:
    store: ByteStore[str] = ByteStore(most_bytes=100)
    store.put("large", "value", size=101)
    assert (len(store), store.held_bytes, store.get("large")) == (0, 0, None)


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
@pytest.mark.slow
def test_a_search_that_forgets_every_fit_finds_the_same(kind: str) -> None:
    layout = bank(kind, 4)
    readings = read_through(layout, dead=3, echoes=2)
    usual, forgetful = problem(layout, readings), problem(layout, readings)._replace(known=ByteStore(most_bytes=0))
    found, again = solve(usual, Work(inf)).posterior, solve(forgetful, Work(inf)).posterior
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
    monkeypatch.setattr(evidence_module, "BATCH_PLACES", 100)
    assert len(list(subject.evidence.batches())) > 5
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


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
def test_faults_that_change_much_and_explain_nothing_are_left_out(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    layout = bank(kind, 7)
    readings = read_through(layout, dead=6, echoes=0)
    everything = problem(layout, readings)
    monkeypatch.setattr(weighing_module, "MOST_CHANGES", 8)
    fewer = problem(layout, readings)
    large = [item for item in fewer.items if sum(len(each.places) for each in item.changes.values()) > 8]
    (subject,) = everything.subjects
    most = subject.evidence.ceiling - everything.healthy[0].bare + weighing_module.HOPELESS
    assert all(weighing_module.evidence_against(fewer.subjects, item.changes) <= most for item in large)
    assert len(fewer.items) < len(everything.items)
    found, again = solve(everything, Work(inf)).posterior, solve(fewer, Work(inf)).posterior
    assert again.probabilities[:5] == pytest.approx(found.probabilities[:5], rel=1e-6, abs=0)


def test_more_readings_than_can_be_weighed_leave_out_the_oldest_and_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    layout = bank("lamp", 4)
    readings = read_through(layout, dead=1, echoes=0)
    monkeypatch.setattr(evidence_module, "MOST_PLACES", 2 * 16 * 10)
    whole = problem(layout, [*readings, *readings])
    assert whole.subjects[0].evidence.readings == tuple(readings[-10:])
    assert whole.subjects[0].evidence.left_out == 22
    assert not whole.whole
    result = diagnose(layout, [*readings, *readings])
    assert (result.searched.exact, result.searched.gap) == (False, None)


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil"])
@pytest.mark.parametrize("told_by", ["marks", "lists"])
def test_a_layout_that_is_dropped_is_collected(kind: str, told_by: str) -> None:
    layout = bank(kind, 3)
    readings = read_through(layout, dead=2, echoes=1)
    if told_by == "marks":
        readings = [Reading(matrix="m", cell=each.cell, mark=Mark.DEAD) for each in readings[:3]]
    faults = [
        each.fault for each in candidates(layout, shipped_rates()) if each.fault_class is FaultClass.DIODE_SHORTED
    ]
    diagnose(layout, readings)
    predict(layout, faults[:2], readings)
    dropped = weakref.ref(layout)
    del layout
    gc.collect()
    assert dropped() is None
    frames = [each for each in gc.get_objects() if isinstance(each, Frame) and (0, 0) in each.cells]
    assert [each for each in frames if each.cells[0, 0].name == "device 0"] == []


def test_a_bench_that_analyses_many_jobs_keeps_the_analyses_of_a_few(tmp_path: Path) -> None:
    layout, bench = bank("switch", 4), Bench(tmp_path / "jobs.book")
    for _ in range(5):
        job = bench.new_job(layout, "invented job")
        bench.mark(job, "m", "c1-")
        bench.diagnosis(job)
    gc.collect()
    mine = [one for one in gc.get_objects() if isinstance(one, Kept) and one.layout.name == layout.name]
    assert 1 <= len(mine) <= 2
    bench.close()
