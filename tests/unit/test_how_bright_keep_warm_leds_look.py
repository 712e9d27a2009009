"""How bright keep-warm LEDs look is taken from those that are fed, not from what comes round to others."""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.evidence.noise import Glow, glow_of
from matrixcheck.diagnosis.evidence.observations import observe
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.bench.score import score
from tests.bench.tally import asked
from tests.spice.simulate import written

BANK = """
format = 1
name = "Invented two sides"
[[matrix]]
id = "coils"
kind = "coil"
numbering = "down-columns"
cells = [["one", "two"], ["three", "four"], ["five", "six"]]
[[matrix.column]]
select = "K1"
when = "rest"
[[matrix.column]]
select = "K1"
when = "pulled"
""" + "".join(
    f'[matrix.cell.{number}]\ndevice = "flash lamp"\nfitted = "led"\nkeep_warm = {{ohms = 330, volts = 24}}\n'
    for number in (1, 2, 4, 5)  # down the columns: two of the first side, two of the second
)
FED, ROUND = '"r1c1", "r2c1"', '"r2c2", "r1c2"'


@pytest.mark.parametrize(
    ("answered", "faint", "expected"),
    [
        (FED, ROUND, Glow.BRIGHT),
        (ROUND, FED, Glow.FAINT),
        (ROUND, "", Glow.BRIGHT),
        ("", ROUND, Glow.FAINT),
        ("", "", Glow.ANY),
    ],
)
def test_leds_of_the_side_that_is_fed_say_it_and_others_only_where_none_of_these_show(
    answered: str, faint: str, expected: Glow
) -> None:
    layout = parse_layout(BANK, "two sides")
    text = f'{{"matrix": "coils", "held": [], "answered": [{answered}], "faint": [{faint}]}}\n'
    frame = Frame(layout.matrices[0])
    found = observe(frame, read_readings(text, layout, "two sides"), shipped_rates().reading)
    assert glow_of(frame, found.exercises.slot, found.seen, found.judged) is expected


def test_faint_leds_of_the_other_side_beside_bright_ones_need_no_invented_faults() -> None:
    case = draw_case("contract a77 2 83", "coil", 2)
    layout = parse_layout(case.layout, case.name)
    answer, _ = asked(layout, read_readings(written(case.readings), layout, case.name))
    result = score(case.injected(), bool(case.known), answer)
    assert result.three
    assert len(result.best) <= sum(case.visible)
