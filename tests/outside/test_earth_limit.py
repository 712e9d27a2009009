"""The limits of earth continuity against published figures."""

from __future__ import annotations

import pytest

from matrixcheck.errors import UsageError
from matrixcheck.record.earth_limit import EarthLimit, Lead, earth_limit, lead_of, lead_ohms, limit_typed


@pytest.mark.parametrize(
    ("typed", "rule", "ohms"),
    [
        ("3x1", EarthLimit.PLUS_LEAD, 0.1585),
        ("2,5 x 0,75", EarthLimit.PLUS_LEAD, 0.165),
        ("12m", EarthLimit.BY_LENGTH, 0.4),
        ("0.3", EarthLimit.PLUS_LEAD, 0.3),
        ("0,25", EarthLimit.FLAT, 0.25),
    ],
)
def test_a_limit_is_typed_as_the_lead_or_in_ohms(typed: str, rule: EarthLimit, ohms: float) -> None:
    assert limit_typed(typed, rule).ohms == pytest.approx(ohms, rel=1e-12)


@pytest.mark.parametrize("typed", ["", "two", "2.5x9", "-0.1", "nan", "1e99", "xm", "2.5m"])
def test_no_limit_is_typed_with_anything_else(typed: str) -> None:
    """A length alone is too little where the resistance of the lead counts."""
    with pytest.raises(UsageError):
        limit_typed(typed, EarthLimit.PLUS_LEAD)


@pytest.mark.parametrize(("area", "milliohms"), [(0.5, 39.0), (0.75, 26.0), (1.0, 19.5), (1.5, 13.3)])
def test_the_resistance_of_a_lead_is_that_of_flexible_copper(area: float, milliohms: float) -> None:
    """IEC 60228, class 5 (flexible), milliohms a metre at 20 °C: seen in text, secondary."""
    assert lead_ohms(Lead(1.0, area)) == pytest.approx(milliohms / 1000, rel=1e-12)
    assert lead_ohms(Lead(7.0, area)) == pytest.approx(7 * milliohms / 1000, rel=1e-12)


@pytest.mark.parametrize("area", [0.5, 0.75, 1.0, 1.5])
def test_no_core_is_better_than_solid_copper_of_its_size_nor_a_third_worse(area: float) -> None:
    """IEC 60028: annealed copper has 1/58 ohm mm² a metre at 20 °C; text, secondary. Strands and tolerances add."""
    ideal = 1 / 58 / area
    assert ideal <= lead_ohms(Lead(1.0, area)) <= 1.34 * ideal


@pytest.mark.parametrize(("typed", "ohms"), [("3x1", 0.1585), ("2.5x0.75", 0.165), ("2,5 x 0,75", 0.165)])
def test_a_tenth_of_an_ohm_and_the_lead_is_the_limit_of_a_class_1_appliance(typed: str, ohms: float) -> None:
    """IET Code of Practice, in-service tests: (0.1 + R) ohms, R of the lead's protective conductor; 3 m of 1 mm² give
    0.1585. Text, secondary; local rules decide."""
    limit = earth_limit(EarthLimit.PLUS_LEAD, lead_of(typed))
    assert limit.ohms == pytest.approx(ohms, rel=1e-12)
    assert "IEC 60228" in limit.source


@pytest.mark.parametrize(
    ("metres", "ohms"), [(1, 0.3), (5, 0.3), (5.1, 0.4), (12.5, 0.4), (12.6, 0.5), (50, 0.9), (58, 1.0), (99, 1.0)]
)
def test_other_codes_go_by_the_length_of_the_lead_up_to_one_ohm(metres: float, ohms: float) -> None:
    """General principle of appliance testing: 0.3 ohms up to 5 m, 0.1 for each further 7.5 m, at most 1; or 1 ohm flat.
    From memory."""
    assert earth_limit(EarthLimit.BY_LENGTH, Lead(metres)).ohms == pytest.approx(ohms, rel=1e-12)
    assert earth_limit(EarthLimit.FLAT, None).ohms == 1.0


def test_a_limit_set_by_hand_comes_before_any_rule() -> None:
    for rule in EarthLimit:
        assert earth_limit(rule, None, 0.2) == (0.2, "set by hand")


@pytest.mark.parametrize("typed", ["", "x", "2.5x", "2.5x0.8", "-1x1", "0x1", "1e3x1", "200x1", "2.5 m"])
def test_what_is_no_lead_is_refused(typed: str) -> None:
    with pytest.raises(UsageError):
        lead_of(typed)


@pytest.mark.parametrize("rule", [EarthLimit.PLUS_LEAD, EarthLimit.BY_LENGTH])
def test_a_rule_that_needs_the_lead_asks_for_it(rule: EarthLimit) -> None:
    with pytest.raises(UsageError, match="mains lead"):
        earth_limit(rule, None)
    with pytest.raises(UsageError, match="cross-section"):
        earth_limit(EarthLimit.PLUS_LEAD, Lead(3.0))
