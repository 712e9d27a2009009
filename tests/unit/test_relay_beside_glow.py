"""A relay stuck on one side beside LEDs that glow on their keep-warm resistors: both are named, at every reading."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import product
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Diagnosis, FaultClass
from matrixcheck.layout.files import parse_layout, read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.record.readings import read_readings
from tests.samples import some_of

CASE = Path(__file__).parents[1] / "contract" / "relay-beside-glow.toml"
BANK = read_layout(CASE)
READ = read_readings(CASE.with_suffix(".jsonl").read_text("utf-8"), BANK, "relay-beside-glow")


def classes_of_best(found: Diagnosis) -> set[FaultClass]:
    return {member.fault for name in found.explanations[0].suspects for member in found.suspect(name).members}


def told_of_glow(found: Diagnosis) -> int:
    """How many suspects of the best explanation name the glow of the keep-warm LEDs."""
    best = [found.suspect(name) for name in found.explanations[0].suspects]
    return sum(any(one.fault is FaultClass.KEEP_WARM_GLOW for one in each.members) for each in best)


@pytest.mark.parametrize("count", range(2, len(READ) + 1))
def test_the_relay_is_at_the_top_from_the_first_command_that_it_misleads(count: int) -> None:
    found = diagnose(BANK, READ[:count])
    assert {FaultClass.RELAY_STUCK, FaultClass.KEEP_WARM_GLOW} <= classes_of_best(found)
    assert found.explanations[0].probability > 0.7
    assert told_of_glow(found) == 1


@pytest.mark.parametrize("sign", some_of(["/", "+"], 1))
def test_typed_entry_by_entry_the_relay_is_at_the_top(tmp_path: Path, sign: str) -> None:
    """`/` where the glow of the commanded LED isn't taken for an answer, `+` where it is."""
    ticks = (datetime(2026, 3, 1, tzinfo=UTC) + timedelta(seconds=count) for count in range(1000))
    with_glow = {r: f"{100 + r}{sign}{r}" for r in (6, 9)}
    bench = Bench(tmp_path / "bench.book", clock=lambda: next(ticks))
    try:
        job = bench.new_job(BANK, "invented", serial="", owner="")
        bench.mark(job, "coils", "106* 109*")
        for row in range(5, 11):
            bench.mark(job, "coils", with_glow.get(row, f"{100 + row}/{row}"))
            found = diagnose(BANK, bench.state(job).current)
            assert {FaultClass.RELAY_STUCK, FaultClass.KEEP_WARM_GLOW} <= classes_of_best(found)
            assert told_of_glow(found) == 1
    finally:
        bench.close()


def bank_with(warm: tuple[int, ...]) -> Layout:
    """The contract's bank with keep-warm LEDs on other rows of its second side."""
    text = CASE.read_text("utf-8")
    cells = "".join(
        f'  [matrix.cell.{100 + row}]\n  device = "flash lamp"\n'
        + ('  fitted = "led"\n  keep_warm = {ohms = 330, volts = 24}\n' if row in warm else '  fitted = "filament"\n')
        for row in range(5, 11)
    )
    return parse_layout(text[: text.index("  [matrix.cell.106]")] + cells, "invented")


@pytest.mark.parametrize(
    ("warm", "when"), some_of(product([(6, 9), (7, 8), (9, 10), (7, 8, 10)], ["rest", "pulled"]), 4)
)
def test_wherever_the_leds_are_no_stranger_set_comes_before_relay_and_glow(warm: tuple[int, ...], when: str) -> None:
    """All commands of the second side, then those of the first; half way and at the end."""
    layout = bank_with(warm)
    faults = [parse_fault(text, layout) for text in (f"relay-stuck:K1:{when}", "keep-warm-glow:coils")]
    sides = [CellKey("coils", row, column) for column in (3, 2) for row in range(5, 11)]
    asked = [Reading(matrix="coils"), *(Reading(matrix="coils", cell=cell) for cell in sides)]
    readings = predict(layout, faults, asked)
    for count in (7, len(readings)):
        found = diagnose(layout, readings[:count])
        # All of the second side and nothing else answers as it should where the relay stays pulled in.
        wanted = {FaultClass.RELAY_STUCK} if when == "rest" or count > 7 else {FaultClass.KEEP_WARM_GLOW}
        assert wanted <= classes_of_best(found)
        assert told_of_glow(found) <= 1
