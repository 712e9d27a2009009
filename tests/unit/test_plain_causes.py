"""Wrong coils and keep-warm glow stand beside what the search found, where the readings ask for them and only there."""

from __future__ import annotations

import pytest
from diagnosis_case import machine

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.explanation.unrivalled import with_plain_causes
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Explanation, Fault, FaultClass, Suspect
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading

LAYOUT = machine()
KICKER, LEFT, RIGHT, TOP = (CellKey("coils", row, column) for row, column in ((1, 1), (1, 2), (2, 2), (3, 2)))
NOTHING = (Explanation(probability=0.9, suspects=()),)


def classes(suspects: tuple[Suspect, ...]) -> list[FaultClass]:
    return [member.fault for suspect in suspects for member in suspect.members]


def test_readings_that_ask_for_nothing_change_nothing() -> None:
    readings = [Reading(matrix="coils", cell=LEFT, answered=(LEFT,)), Reading(matrix="coils", answered=(TOP,))]
    assert with_plain_causes(LAYOUT, readings, NOTHING, (), 0.97) == (NOTHING, ())


@pytest.mark.parametrize(
    "reading",
    [
        Reading(matrix="coils", answered=(LEFT, RIGHT)),
        Reading(matrix="coils", cell=KICKER, answered=(KICKER, LEFT)),
        Reading(matrix="coils", cell=LEFT, mark=Mark.STUCK),
    ],
)
def test_an_led_that_is_lit_by_itself_brings_in_all_such_leds_of_its_bank(reading: Reading) -> None:
    ((best,), (glow,)) = with_plain_causes(LAYOUT, [reading], NOTHING, (), 0.97)
    # A sound machine does so too: nothing is wrong, and yet it is said what glows.
    assert best.suspects == ()
    assert classes((glow,)) == [FaultClass.KEEP_WARM_GLOW]
    assert glow.members[0].cells == (LEFT, RIGHT)
    assert glow.explains[0] == LEFT
    assert glow.probability == pytest.approx(0.9, rel=1e-12, abs=0)
    assert "up to about 65 mA, less with a resistor inside" in glow.says


def test_glow_that_a_relay_feeds_is_told_beside_it() -> None:
    explanations, suspects = _beside("relay-stuck:K1:pulled")
    assert [each.suspects for each in explanations] == [(), ("s1",)]
    assert suspects[0].probability == pytest.approx(1.0, rel=1e-12, abs=0)


def test_glow_that_another_suspect_explains_is_not_explained_twice() -> None:
    explanations, suspects = _beside("stuck-on:coils.r1")
    assert [each.suspects for each in explanations] == [(), ("s1",)]
    assert [suspect.id for suspect in suspects] == ["s2", "s1"]
    assert suspects[0].probability == pytest.approx(0.6, rel=1e-12, abs=0)


def test_glow_that_the_search_names_for_some_explanations_is_one_suspect_with_both_chances() -> None:
    explanations, suspects = _beside("keep-warm-glow:coils")
    assert [each.suspects for each in explanations] == [(), ("s1",)]
    assert [suspect.id for suspect in suspects] == ["s1"]
    assert suspects[0].probability == pytest.approx(1.0, rel=1e-12, abs=0)


def _beside(fault: str) -> tuple[tuple[Explanation, ...], tuple[Suspect, ...]]:
    """A fault that may explain why an LED is lit, or nothing does."""
    suspect = Suspect(
        id="s1",
        probability=0.4,
        members=(parse_fault(fault, LAYOUT),),
        explains=(LEFT, KICKER),
        contradicts=(),
        untested=(),
        says="",
    )
    ranked = (Explanation(probability=0.6, suspects=()), Explanation(probability=0.4, suspects=("s1",)))
    return with_plain_causes(LAYOUT, [Reading(matrix="coils", answered=(LEFT,))], ranked, (suspect,), 0.97)


def test_a_wrong_coil_stands_in_every_explanation_with_what_it_does_to_the_kick() -> None:
    readings = [Reading(matrix="coils", cell=KICKER, answered=(KICKER,), ohms=2.33)]
    ranked = (Explanation(probability=0.6, suspects=()), Explanation(probability=0.4, suspects=()))
    explanations, (wrong,) = with_plain_causes(LAYOUT, readings, ranked, (), 0.97)
    assert [each.suspects for each in explanations] == [(wrong.id,)] * 2
    assert (classes((wrong,)), wrong.explains) == ([FaultClass.WRONG_DEVICE], (KICKER,))
    assert "Kicks about 1.4 to 1.8 times as hard" in wrong.says


@pytest.mark.parametrize("ohms", [4.2, 4.4])
def test_a_coil_measured_within_tolerance_is_no_suspect(ohms: float) -> None:
    seen = [Reading(matrix="coils", cell=KICKER, mark=Mark.DEAD)]
    working = [Reading(matrix="coils", cell=CellKey("coils", row, 1), mark=Mark.WORKING) for row in (2, 3)]
    measured = Reading(matrix="coils", cell=KICKER, ohms=ohms)
    before = diagnose(LAYOUT, [*seen, *working])
    after = diagnose(LAYOUT, [*seen, *working, measured])
    dead = Fault(fault=FaultClass.DEVICE_DEAD, cells=(KICKER,))
    assert [dead in each.members for each in before.suspects].count(True) == 1
    assert not any(dead in each.members for each in after.suspects)
    assert "itself" not in after.suspects[0].says
