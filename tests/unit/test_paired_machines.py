"""Two ways to answer the same machines, compared in pairs; and misses judged by the circuit simulator."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.rates_file import read_rates
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.bench.paired import OTHER_RATES, TREE, answered, split
from tests.bench.score import Score, worth_of
from tests.bench.tally import asked
from tests.spice.simulate import written


def test_a_split_counts_each_sort_of_pair_and_gives_the_sign_test_of_the_uneven_ones() -> None:
    first = [True] * 10 + [False] * 3
    second = [True] * 4 + [False] * 6 + [True] * 1 + [False] * 2
    one, other = 6, 1
    at_least_as_uneven = 2 * (1 + 7) / 2 ** (one + other)  # 7 or 6 of 7 heads, and the same of tails
    assert split(first, second) == ("4", "6", "1", "2", f"{at_least_as_uneven:.2f}")
    assert split([True, False], [True, False]) == ("1", "0", "0", "1", "1.00")


@pytest.mark.slow
def test_the_program_of_a_tree_answers_as_it_does_here_under_the_rates_it_is_given() -> None:
    case = draw_case("paired 1", "lamp", 1)
    line = {"name": case.name, "layout": case.layout, "readings": written(case.readings), "findings": []}
    layout = parse_layout(case.layout, case.name)
    here, _ = asked(layout, read_readings(written(case.readings), layout, case.name))
    found = [answered(json.dumps(line) + "\n", TREE, rates)[0] for rates in (None, OTHER_RATES)]
    for answer in (here, *found):
        del answer["searched"]["seconds"]
    assert found[0] == here
    assert found[1]["explanations"] != here["explanations"]


def test_the_rates_before_know_no_difference_by_what_a_line_feeds() -> None:
    rates = read_rates(Path(OTHER_RATES))
    assert set(rates.contact.values()) == {0.004}
    assert set(rates.stuck_on.values()) == {0.003}
    assert set(rates.grounded.values()) == {0.002}
    layout = parse_layout(draw_case("paired 2", "coil", 0).layout, "drawn")
    relay = [each.rate for each in candidates(layout, rates) if each.fault_class == "relay-stuck"]
    assert relay == [0.003, 0.003]


@pytest.mark.parametrize(
    ("top", "named", "differs", "expected"),
    [
        (True, 9, None, (True, True)),
        (False, 1, 0, (True, True)),
        (False, 2, 0, (False, True)),
        (False, 1, 3, (False, False)),
    ],
)
def test_only_a_miss_is_simulated_and_is_as_good_if_it_shows_the_same_and_is_no_larger(
    top: bool, named: int, differs: int | None, expected: tuple[bool, bool]
) -> None:
    def differing(_: object) -> int:
        assert differs is not None, "a hit needs no simulation"
        return differs

    result = Score(top, top, (), (), 0.9, tuple({} for _ in range(named)))
    assert worth_of(result, 1, differing) == expected
