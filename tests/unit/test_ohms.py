"""Coil readings: brought to 20 degrees Celsius, held against tolerance, and described by what they do to the kick."""

from __future__ import annotations

import pytest
from diagnosis_case import machine
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.diagnosis.forward.coil_resistance import (
    at_20,
    coil_faults,
    cold_enough,
    deviation_words,
    figure,
    is_outside,
    warm_enough,
)
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

LAYOUT = machine()
KICKER = LAYOUT.matrix("coils").by_number[1]
POPPER = LAYOUT.matrix("coils").by_number[2]
FLASHER = LAYOUT.matrix("coils").by_number[4]


def reading(ohms: float, place: CellKey = KICKER.key) -> Reading:
    return Reading(matrix="coils", cell=place, ohms=ohms)


@given(st.floats(0.1, 1000), st.floats(-20, 120))
def test_bringing_a_reading_to_20_degrees_undoes_its_warming(ohms: float, celsius: float) -> None:
    warmed = ohms * (1 + 0.00393 * (celsius - 20))
    assert at_20(warmed, celsius) == pytest.approx(ohms, rel=1e-12, abs=0)


@pytest.mark.parametrize(
    ("ohms", "celsius", "wrong"),
    [(4.2, 20, False), (3.78, 20, False), (4.62, 20, False), (3.77, 20, True), (4.63, 20, True), (4.9, 75, False)],
)
def test_a_coil_is_wrong_from_just_beyond_its_tolerance_at_20_degrees(ohms: float, celsius: float, wrong: bool) -> None:
    assert is_outside(KICKER, ohms, celsius) is wrong
    found = coil_faults(LAYOUT, [reading(ohms)], celsius)
    assert [fault.cells for fault in found] == ([(KICKER.key,)] if wrong else [])


def test_a_coil_without_a_tolerance_has_the_usual_one_and_one_without_a_value_is_never_wrong() -> None:
    assert is_outside(POPPER, 10.0)
    assert not is_outside(POPPER, 10.4)
    assert not is_outside(FLASHER, 0.1)


def test_the_last_measurement_of_a_coil_counts_and_readings_without_one_do_not() -> None:
    readings = [reading(2.0), reading(5.0, POPPER.key), Reading(matrix="coils", cell=KICKER.key), reading(4.2)]
    (fault,) = coil_faults(LAYOUT, readings)
    assert (fault.fault, fault.cells) == (FaultClass.WRONG_DEVICE, (POPPER.key,))


def test_a_coil_of_too_few_ohms_gets_hotter_and_one_of_too_many_is_weak() -> None:
    assert deviation_words(KICKER, 2.33) == (
        "2.3 ohms measured; due 4.2 ±10 % at 20 °C. Draws up to 1.8 times the current and gets that much hotter. "
        "Kicks about 1.4 to 1.8 times as hard if wound on the same bobbin. Wears its driver"
    )
    assert deviation_words(KICKER, 8.4) == "8.4 ohms measured; due 4.2 ±10 % at 20 °C. Weak: draws 0.5 of the current"


def test_almost_a_short_is_not_reckoned_but_never_to_be_powered() -> None:
    for ohms in (0.0, 0.05, 0.2, 2.0):
        assert deviation_words(KICKER, ohms).endswith("Shorted turns, or the lugs touch. Don't power it")


def test_what_a_measurement_leaves_open_is_said() -> None:
    """Leads read up to 0.5 ohms, which weighs more than heat; below 10 kelvins nothing is said of temperature."""
    assert deviation_words(KICKER, 4.9).endswith(
        "Normal if the leads weren't taken off or the coil was at 35 °C or more"
    )
    assert deviation_words(KICKER, 5.2).endswith("Normal if the coil was at 52 °C or more")
    assert "°C or" not in deviation_words(KICKER, 4.63)
    assert deviation_words(KICKER, 3.6).endswith("Normal if the coil was at 8 °C or less")
    assert "Normal if" not in deviation_words(KICKER, 3.0)
    assert warm_enough(KICKER, 4.9) == pytest.approx(35.42, rel=0, abs=0.01)
    assert cold_enough(KICKER, 3.6) == pytest.approx(7.88, rel=0, abs=0.01)
    assert warm_enough(KICKER, 8.4) is None
    assert warm_enough(KICKER, 2.0) is None
    assert "is open" in deviation_words(KICKER, 1e6)
    assert deviation_words(KICKER, 4.2).endswith("good")
    assert deviation_words(FLASHER, 4.2).endswith("the layout gives no value")


def test_figures_have_two_places_and_no_exponent() -> None:
    assert [figure(value) for value in (0.3141, 1.84, 12.3, 149.0, 25_000, 1_234_567)] == [
        "0.31", "1.8", "12", "150", "25000", "1234567",
    ]  # fmt: skip
