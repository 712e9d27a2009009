"""An evening of every sort of entry over all matrices of the invented machine: all along the answer is sound, with one
client and with two, and what is kept from one analysis to the next changes no answer."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.result import Diagnosis, to_json
from tests.machines import saltmarsh_tram
from tests.unit.mixed_evening import HAND, Evening
from tests.unit.soundness import flaws_of

TRAM = saltmarsh_tram()
WHOLE = 300
NOW_AND_THEN = {HAND: 12, WHOLE: 30}
"""A hand and the whole evening are analysed after each of so many entries only, which takes seconds and minutes; after
every single one, which takes half an hour, with EVERY_ENTRY=1 in the environment."""


def untimed(found: Diagnosis) -> Mapping[str, Any]:
    """The answer as JSON values, but for how long it took."""
    body: dict[str, Any] = to_json(found)
    body["searched"].pop("seconds")
    return body


@pytest.mark.parametrize(
    ("steps", "clients"),
    [(HAND, 2), pytest.param(WHOLE, 1, marks=pytest.mark.slow), pytest.param(WHOLE, 2, marks=pytest.mark.slow)],
)
@pytest.mark.slow
def test_the_answer_is_sound_all_along_a_mixed_evening(steps: int, clients: int, tmp_path: Path) -> None:
    book = tmp_path / "evening.book"
    benches = [Bench(book, client=f"client {number}") for number in range(clients)]
    job = benches[0].new_job(TRAM, "invented evening")
    evening = Evening(TRAM, job, seed=20 + clients)
    flawed = {}
    each = 1 if os.environ.get("EVERY_ENTRY") else NOW_AND_THEN[steps]
    for step in range(steps):
        bench = benches[step % clients]
        says = evening.step(bench)
        if (step + 1) % each:
            continue
        found = bench.diagnosis(job)
        assert found.searched.finished
        if flaws := flaws_of(found, bench.state(job).current):
            flawed[f"{step} {says}"] = flaws
    assert flawed == {}
    fresh = Bench(book, client="a third")
    assert all(untimed(bench.diagnosis(job)) == untimed(fresh.diagnosis(job)) for bench in benches)
    for bench in (*benches, fresh):
        bench.close()
