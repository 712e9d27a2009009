"""The circuit oracle (`tests/spice`) against the example cases: the same readings to the letter, the same visibility.

The examples' readings are DC operating points of a circuit simulator that was set up without sight of this one.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.samples import some_of
from tests.spice.bank import bank_of, fault_of
from tests.spice.examples import board_of
from tests.spice.simulate import plan_of, shows, simulate, visible

CASES = Path(__file__).parents[1] / "contract"
LISTED = json.loads((CASES / "injected.json").read_text("utf-8"))


@pytest.mark.parametrize("entry", some_of(LISTED, 10), ids=lambda entry: entry["case"])
def test_the_simulator_gives_the_readings_and_the_visibility_of_each_example(entry: dict[str, Any]) -> None:
    name = entry["case"]
    bank = bank_of((CASES / f"{name}.toml").read_text("utf-8"))
    readings = [json.loads(line) for line in (CASES / f"{name}.jsonl").read_text("utf-8").splitlines()]
    faults = tuple(fault_of(body) for body in entry["injected"])
    plan = plan_of(readings)
    found = simulate(bank, faults, board_of(name), plan)
    assert list(map(shows, found)) == list(map(shows, readings))
    assert visible(bank, faults, board_of(name), plan, found) == tuple(body["visible"] for body in entry["injected"])
