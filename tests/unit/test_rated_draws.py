"""Faults drawn by the shipped rates come as often as these say, and the circuit simulator takes every one of them."""

from __future__ import annotations

import random
from collections import Counter
from math import sqrt

import pytest

from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.layout.files import parse_layout
from tests.bench.__main__ import run
from tests.bench.cases import draw_case, goes_with
from tests.bench.layouts import draw_bank, layout_text
from tests.bench.machine_draw import draw_machine
from tests.bench.machines import ask
from tests.bench.rated import RatedFaults, member_of, simulated
from tests.spice.bank import Fault

DRAWS = 3000


def test_each_class_is_drawn_as_often_as_its_rates_say() -> None:
    bank = draw_bank(random.Random("rated"), "lamp", (8, 8))
    layout = parse_layout(layout_text(bank, frozenset(bank.lines)), "rated")
    rates: dict[str, float] = {}
    for each in candidates(layout):
        rates[str(each.fault_class)] = rates.get(str(each.fault_class), 0.0) + each.rate
    total = sum(rates.values())
    rng, known = random.Random("draws"), RatedFaults(layout)
    drawn = Counter(str(known.draw(rng, 1, lambda one: one, lambda *_: True)[0]["fault"]) for _ in range(DRAWS))
    for fault, rate in rates.items():
        share = rate / total
        assert abs(drawn[fault] / DRAWS - share) < 4 * sqrt(share * (1 - share) / DRAWS) + 1 / DRAWS, fault


def test_faults_whatever_their_number_come_to_the_sum_of_the_rates() -> None:
    bank = draw_bank(random.Random("rated"), "switch", (8, 8))
    layout = parse_layout(layout_text(bank, frozenset(bank.lines)), "rated")
    rng, known = random.Random("draws"), RatedFaults(layout)
    expected = sum(each.rate for each in candidates(layout))
    counts = [len(known.draw_all(rng, lambda one: one, lambda *_: True)) for _ in range(300)]
    assert abs(sum(counts) / len(counts) - expected) < 4 * sqrt(expected / len(counts))


@pytest.mark.parametrize("kind", ["switch", "lamp", "coil", "strings", "inputs"])
def test_what_is_drawn_goes_back_and_forth_as_the_simulator_takes_it(kind: str) -> None:
    bank = draw_bank(random.Random(f"rated {kind}"), kind)
    layout = parse_layout(layout_text(bank, frozenset(bank.lines)), "rated")
    for each in candidates(layout):
        fault = simulated(member_of(each), bank.shared)
        assert isinstance(fault, Fault)
        assert fault.json("m")["fault"] == each.fault_class
    found = RatedFaults(layout).draw(random.Random(1), 4, lambda one: simulated(one, bank.shared), goes_with)
    assert len(found) == 4


def test_a_rated_case_and_a_rated_machine_are_the_same_for_the_same_seed() -> None:
    assert draw_case("r 1", "lamp", 0, rated=True) == draw_case("r 1", "lamp", 0, rated=True)
    machine = draw_machine("rated 1", 2, rated=True)
    assert machine == draw_machine("rated 1", 2, rated=True)
    assert sum(fault["fault"] != "keep-warm-glow" for fault in machine.injected()) == 2
    assert ask(machine)[1].three


@pytest.mark.slow
def test_the_measurements_of_rated_faults_print_their_tables(capsys: pytest.CaptureFixture[str]) -> None:
    nothing = ("marked", "exact", "shared", "contract", "faulty", "healthy", "sized", "unusual", "ranked")
    few = (*(word for name in nothing for word in (f"--{name}", "0")), "--rated", "1", "--three", "1")
    assert run(["diagnosis", *few]) == 0
    printed = capsys.readouterr().out
    assert "| all " in printed
    assert "| by the shipped rates, none wrong" in printed
    assert run(["machines", "--rated", "--count", "1", "--healthy", "0", "--faults", "1"]) == 0
    assert "by the shipped rates" in capsys.readouterr().out
