"""Where the keep-warm LEDs of a bank glow faintly, one that is bright all the time is more than kept warm."""

from __future__ import annotations

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.bench.score import score
from tests.spice.simulate import written


def test_a_flash_led_that_is_stuck_on_is_named() -> None:
    """Its readings come from the circuit simulator `neospice` (PyPI, MIT)."""
    case = draw_case("hidden 5-23", "coil", 1, hidden=1.0)
    (planted,) = case.injected()
    assert (planted["fault"], planted["visible"]) == ("device-stuck", True)
    layout = parse_layout(case.layout, case.name)
    answer = diagnose(layout, read_readings(written(case.readings), layout, case.name))
    found = score(case.injected(), chains=False, diagnosis=to_json(answer))
    assert (found.missed, found.extra) == ((), ())
    assert found.probability > 0.95
