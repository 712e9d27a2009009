"""Keep-warm glow: the standing current, whether it is seen, and all such LEDs of a bank as one cause."""

from __future__ import annotations

import pytest
from diagnosis_case import TOML, machine
from msgspec import structs

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence.exercises import exercises_of
from matrixcheck.diagnosis.evidence.noise import Predicted
from matrixcheck.diagnosis.forward.fault_effects import condition_of
from matrixcheck.diagnosis.forward.simulate import shows
from matrixcheck.diagnosis.inference.likelihood import state_of
from matrixcheck.diagnosis.machine.candidates import as_candidate
from matrixcheck.diagnosis.machine.keep_warm import current_words, glow_faults, glows, standing_current
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading


@pytest.mark.parametrize(
    ("volts", "ohms", "drop", "amperes"),
    [(24.0, 330.0, 3.0, 21 / 330), (50.0, 708.0, 2.0, 48 / 708), (3.0, 330.0, 3.4, 0.0), (3.4, 330.0, 3.4, 0.0)],
)
def test_the_standing_current_is_what_the_resistor_passes_of_the_rest(
    volts: float, ohms: float, drop: float, amperes: float
) -> None:
    assert standing_current(volts, ohms, drop) == pytest.approx(amperes, rel=1e-12, abs=0)


def test_only_leds_on_a_resistor_glow_and_they_are_one_cause_for_the_whole_bank() -> None:
    layout = machine()
    assert [glow.cell.number for glow in glows(layout.matrix("coils"))] == [4, 5]
    (fault,) = glow_faults(layout)
    assert fault.fault is FaultClass.KEEP_WARM_GLOW
    assert [str(cell) for cell in fault.cells] == ["coils.r1c2", "coils.r2c2"]


def test_the_range_of_forward_drops_brackets_the_current() -> None:
    (glow, _) = glows(machine().matrix("coils"))
    assert glow.least < standing_current(24, 330, 2.6) < glow.largest
    assert glow.visible


def test_an_led_that_is_fed_past_the_relay_is_at_full_light_when_its_row_is_commanded_on_the_other_side() -> None:
    """At rest it glows, bright or faint; with its row sunk it has its whole current."""
    frame = Frame(machine().matrix("coils"))
    (fault,) = glow_faults(machine())
    led, twin = frame.at(fault.cells[0]), CellKey("coils", fault.cells[0].row, 1)
    laid = exercises_of(frame, [(None, ()), (twin, ())])
    dark, glowing = (Predicted.DARK, Predicted.DARK), (Predicted.GLOW, Predicted.LIT)
    for faults, states in (([], dark), ([as_candidate(fault)], glowing)):
        state = state_of(shows(frame, condition_of(frame, faults), laid))
        assert tuple(state[led[0], :, led[1]]) == states


def test_an_led_that_only_glows_may_have_been_marked_dead_though_a_list_would_say_faint() -> None:
    """Its row is open, or its diode: the keep-warm current still lights it. A mark has no word for that."""
    layout = machine()
    led = glow_faults(layout)[0].cells[0]
    marks = [Reading(matrix="coils", cell=cell.key, mark=Mark.WORKING) for cell in layout.matrix("coils").fitted]
    marked = [structs.replace(one, mark=Mark.DEAD) if one.cell == led else one for one in marks]
    listed = [structs.replace(one, mark=None, answered=() if one.cell == led else (one.cell,)) for one in marks]
    for readings, may_be in ((marked, True), (listed, False)):
        (first, *_) = diagnose(layout, readings).suspects
        assert (FaultClass.DIODE_OPEN in {member.fault for member in first.members}) == may_be


def test_a_current_too_small_to_be_seen_is_no_cause() -> None:
    layout = parse_layout(TOML.replace("ohms = 330", "ohms = 470000"), "faint")
    assert not any(glow.visible for glow in glows(layout.matrix("coils")))
    assert glow_faults(layout) == ()
    assert current_words(layout.matrix("coils")) == "no current worth naming"


def test_the_current_is_said_in_milliamperes_as_the_most_where_the_resistors_differ() -> None:
    assert current_words(machine().matrix("coils")) == "up to about 65 mA, less with a resistor inside"
    mixed = TOML.replace("keep_warm = {ohms = 330, volts = 24}", "keep_warm = {ohms = 1000, volts = 24}", 1)
    assert (
        current_words(parse_layout(mixed, "mixed").matrix("coils")) == "up to about 67 mA, less with a resistor inside"
    )
