"""Whole machines of the bench: matrices share parts, a fault of such a part shows in each of them, and what is named is
held against the circuit simulator."""

from __future__ import annotations

import pytest

from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.__main__ import run
from tests.bench.machine_draw import Machine, Planted, draw_machine, fault_of_part
from tests.bench.machines import ask
from tests.samples import some_of
from tests.spice.simulate import written


def _shared_parts(machine: Machine) -> set[str]:
    layout = parse_layout(machine.layout, "a drawn machine")
    return {part for part, lines in layout.lines_through.items() if len({line.matrix for line in lines}) > 1}


@pytest.mark.parametrize("seed", some_of(range(3), 1))
def test_a_drawn_machine_has_five_matrices_that_share_a_plug(seed: int) -> None:
    machine = draw_machine(str(seed), 1)
    layout = parse_layout(machine.layout, "a drawn machine")
    assert len(layout.matrices) == 5
    assert any(part[0] == "X" for part in _shared_parts(machine))
    readings = read_readings(written(machine.readings), layout, "a drawn machine")
    assert {reading.matrix for reading in readings} == {matrix.id for matrix in layout.matrices}
    assert any(machine.visible)


@pytest.mark.slow
def test_the_same_seed_draws_the_same_machine() -> None:
    first, second = draw_machine("same", 3, wrong=0.01), draw_machine("same", 3, wrong=0.01)
    assert first == second
    assert first.readings
    assert first.layout != draw_machine("other", 3).layout


@pytest.mark.parametrize("seed", some_of(range(2), 1))
def test_a_shared_plug_that_is_off_is_seen_in_each_of_its_matrices_and_named_first(seed: int) -> None:
    machine = draw_machine(f"plug {seed}", 0)
    plug = min(part for part in _shared_parts(machine) if part[0] == "X" and "-" not in part)
    faults = {each.bank.id: fault_of_part(each.bank, plug) for each in machine.rounds if each.bank.through(plug)}
    broken = Machine(machine.rounds, (Planted(faults),), (True,))
    broken = Machine(machine.rounds, broken.faults, (True,), broken.observed(broken.faults))
    changed = {a["matrix"] for a, b in zip(machine.readings, broken.readings, strict=True) if a != b}
    assert changed == faults.keys()
    answer, result, _ = ask(broken)
    assert result.top, answer["explanations"][:2]
    assert broken.differing(result.best) == 0


def test_naming_nothing_differs_from_what_was_read() -> None:
    machine = draw_machine("something", 2)
    assert machine.differing(()) > 0


def test_the_measurement_prints_its_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["machines", "--count", "1", "--healthy", "0", "--faults", "1", "--misses"]) == 0
    assert "| 1 fault " in capsys.readouterr().out


@pytest.mark.parametrize(
    "seed",
    [
        pytest.param(
            "1 4 0",
            marks=pytest.mark.slow,
            id="a chip is grouped with a plug that darkens the same cells beside a dead matrix",
        ),
        pytest.param("a 4 22", id="a dead chip reads nothing, though its matrix reads closed without a fuse"),
        pytest.param(
            "last9 3 2", marks=pytest.mark.slow, id="a keep-warm LED with an open diode glows, and is marked dead"
        ),
    ],
)
def test_what_was_missed_once_is_named_first(seed: str) -> None:
    answer, result, _ = ask(draw_machine(seed, int(seed.split()[1])))
    assert result.top, answer["explanations"][:2]
