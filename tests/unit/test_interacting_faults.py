"""Faults that bear on each other: what one of them changes hangs on the others, and each is named all the same.

Every machine is drawn by its seed and invented; its readings come from the circuit simulator `neospice` (PyPI, MIT).
"""

from __future__ import annotations

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import FaultClass, to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.record.readings import read_readings
from tests.bench.cases import Case, draw_case
from tests.bench.score import Score, differing, score
from tests.samples import some_of
from tests.spice.simulate import written

MACHINES = {
    "crossed rows, most columns unplugged": ("fresh 2611 2 93", "switch", "unplugged crossed"),
    "a dead coil that only a short calls for": ("fresh 2611 2 149", "coil", "diode-open shorted-together"),
    "a dead lamp that only a crossing calls for": ("fresh 2612 2 220", "lamp", "device-dead crossed"),
    "a break that only a stuck relay leads beyond": ("fresh 2613 2 356", "coil", "break relay-stuck"),
    "a short carries on what keeps a row lit": ("fresh 2612 2 64", "lamp", "shorted-together grounded"),
    "rows shorted where columns are crossed": ("fresh 2615 2 53", "coil", "shorted-together crossed"),
    "a driver stuck behind a crossing": ("fresh 2613 2 310", "lamp", "stuck-on crossed"),
    "a shorted diode on a row at ground": ("fresh 2613 2 240", "switch", "diode-shorted grounded"),
    "a reversed diode on a row at ground": ("fresh 2613 3 162", "switch", "grounded diode-reversed break"),
    "nothing comes round through a dead lamp": ("fresh 2613 2 205", "lamp", "diode-open diode-shorted"),
    "a plug in place of several dead lamps": ("fresh 2613 3 19", "lamp", "crossed diode-shorted unplugged"),
    "rows touch on a side that stays selected": (
        "faulty 1 3 92",
        "coil",
        "diode-open shorted-together relay-stuck",
    ),
    "a plug off beside wires at ground": ("contract 41 3 198", "switch", "grounded grounded unplugged"),
    "a lamp row drains through a reversed diode": ("contract 41 2 235", "lamp", "grounded diode-reversed"),
    "a stuck switch shows in the row that its own is crossed with": (
        "contract 41 3 315",
        "switch",
        "crossed diode-open device-stuck",
    ),
    "rows touch at the end of a broken column": ("contract 41 3 250", "lamp", "shorted-together break grounded"),
    "a stuck column shows which lamps a break spares": ("contract 41 2 583", "lamp", "break stuck-on"),
    "a grounded row lights more LEDs than glow": ("fresh 2613 3 230", "coil", "grounded wrong-device break"),
}
BESIDE_A_DEVICE = {
    "a break with a reversed diode at its far end": ("three 1 34", "lamp", "break diode-shorted diode-reversed"),
    "a reversed diode where sides are crossed": ("contract 41 2 404", "coil", "diode-reversed crossed"),
}
"""The same where a lamp's brightness is taken for a fault of its own besides."""


def _scored(case: Case) -> Score:
    layout = parse_layout(case.layout, case.name)
    answer = diagnose(layout, read_readings(written(case.readings), layout, case.name))
    return score(case.injected(), bool(case.known), to_json(answer), case.misjudged)


@pytest.mark.parametrize("machine", some_of(MACHINES, 4))
def test_faults_that_bear_on_each_other_are_named(machine: str) -> None:
    seed, kind, planted = MACHINES[machine]
    case = draw_case(seed, kind, len(planted.split()))
    assert [fault.fault for fault in case.faults] == planted.split()
    assert all(case.visible)
    found = _scored(case)
    assert (found.missed, found.extra) == ((), ())


@pytest.mark.slow
@pytest.mark.parametrize("machine", BESIDE_A_DEVICE)
def test_faults_that_bear_on_each_other_are_named_beside_a_device_that_looks_too_bright(machine: str) -> None:
    seed, kind, planted = BESIDE_A_DEVICE[machine]
    case = draw_case(seed, kind, len(planted.split()))
    assert [fault.fault for fault in case.faults] == planted.split()
    found = _scored(case)
    assert found.missed == ()
    assert all(not suspect["members"][0]["lines"] for suspect in found.extra)


def test_rows_crossed_to_where_nothing_is_fitted_read_as_two_dead_coils() -> None:
    """Each row has one coil, on different sides: two dead ones are likelier than a crossing, and read the same."""
    case = draw_case("fresh 2613 2 368", "coil", 2)
    assert [fault.fault for fault in case.faults] == ["crossed", "wrong-device"]
    layout = parse_layout(case.layout, case.name)
    found = diagnose(layout, read_readings(written(case.readings), layout, case.name))
    second = {member.fault for name in found.explanations[1].suspects for member in found.suspect(name).members}
    assert FaultClass.CROSSED in second
    assert differing(case, _scored(case).best) == 0


def test_a_relay_stuck_one_way_behind_crossed_sides_reads_as_one_that_is_stuck_the_other_way() -> None:
    """One fault is likelier than two, and no reading parts them."""
    case = draw_case("fresh 2611 2 104", "coil", 2)
    assert {fault.fault for fault in case.faults} == {"relay-stuck", "crossed"}
    found = _scored(case)
    (named,) = found.best
    assert [member["fault"] for member in named["members"]] == ["relay-stuck"]
    assert differing(case, found.best) == 0
