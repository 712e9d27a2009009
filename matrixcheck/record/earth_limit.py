"""What earth continuity and insulation are held to.

General principle of appliance testing, whose figures differ by country. Local codes and a trained person with a tester
come first.
"""

from __future__ import annotations

import re
from enum import StrEnum
from math import ceil
from typing import NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import MEASURED_OHMS

MILLIOHMS_PER_METRE = {0.5: 39.0, 0.75: 26.0, 1.0: 19.5, 1.5: 13.3}
"""Of a flexible copper conductor (class 5) at 20 °C, by its cross-section in mm²: IEC 60228."""
LEAST_MEGOHMS = 1.0
"""Of line and neutral, joined, to earth."""
_LEAD = re.compile(r"(?P<metres>[0-9]+(?:[.,][0-9]+)?)(?:x(?P<area>[0-9]+(?:[.,][0-9]+)?))?")


class EarthLimit(StrEnum):
    """Name the most that an exposed metal part may read to the earth pin. Local codes come first."""

    PLUS_LEAD = "0.1-ohm-plus-lead"
    """0.1 ohms and the resistance of the lead's earth conductor."""
    BY_LENGTH = "0.3-ohm-by-length"
    """0.3 ohms up to 5 m of lead, 0.1 for each further 7.5 m, at most 1."""
    FLAT = "1-ohm"
    """1 ohm, whatever the lead."""


class Lead(NamedTuple):
    """A mains lead: its length in metres, and the cross-section of its earth core in mm², None where nobody said."""

    metres: float
    area: float | None = None


class Limit(NamedTuple):
    """The most that may be read, in ohms, and where that comes from."""

    ohms: float
    source: str


def lead_of(text: str) -> Lead:
    """Return the lead that is typed as `2.5x0.75` (metres, mm²) or `2.5`. Raises UsageError for any other."""
    found = _LEAD.fullmatch(text.strip().lower().replace(" ", ""))
    if not found or not 0 < float(found["metres"].replace(",", ".")) <= 100:
        raise UsageError(f"'{text:.40}' is not a lead", "give its metres and mm², as in 2.5x0.75")
    area = None if found["area"] is None else float(found["area"].replace(",", "."))
    if area is not None and area not in MILLIOHMS_PER_METRE:
        raise UsageError(
            f"{area:g} mm² is no core of a mains lead", f"it is one of {', '.join(map(str, MILLIOHMS_PER_METRE))}"
        )
    return Lead(float(found["metres"].replace(",", ".")), area)


def limit_typed(text: str, rule: EarthLimit) -> Limit:
    """Return the limit that is typed as the lead (`2.5x0.75`, `2.5m`) or in ohms (`0.3`).

    Raises UsageError for neither, and where the rule needs more of the lead.
    """
    typed = text.strip().lower().replace(" ", "")
    if "x" in typed or typed.endswith("m"):
        return earth_limit(rule, lead_of(typed.removesuffix("m")))
    try:
        ohms = float(typed.replace(",", "."))
    except ValueError:
        raise UsageError(
            f"'{text:.40}' is no limit", "give the lead's metres and mm², as in 2.5x0.75, or ohms, as in 0.3"
        ) from None
    return earth_limit(rule, None, ohms)


def lead_ohms(lead: Lead) -> float:
    """Return the resistance of a lead's earth core at 20 °C, in ohms. Raises UsageError without a cross-section."""
    if lead.area is None:
        raise UsageError("the cross-section of the lead is missing", "give its metres and mm², as in 2.5x0.75")
    return lead.metres * MILLIOHMS_PER_METRE[lead.area] / 1000


def earth_limit(rule: EarthLimit, lead: Lead | None, set_ohms: float | None = None) -> Limit:
    """Return the limit by a rule, or the one that the technician set.

    Raises UsageError where the lead must be known.
    """
    if set_ohms is not None:
        if not MEASURED_OHMS.holds(set_ohms):
            raise UsageError(f"a limit is {MEASURED_OHMS}", "give it in ohms")
        return Limit(set_ohms, "set by hand")
    if rule is EarthLimit.FLAT:
        return Limit(1.0, "1 ohm, whatever the lead")
    if lead is None:
        raise UsageError(
            "the limit depends on the mains lead", "give its metres and mm², as in --lead 2.5x0.75, or set --limit"
        )
    if rule is EarthLimit.BY_LENGTH:
        further = max(ceil((lead.metres - 5) / 7.5), 0)
        return Limit(min(0.3 + 0.1 * further, 1.0), f"0.3 ohms by the length of the lead, {lead.metres:g} m")
    core = lead_ohms(lead)
    return Limit(0.1 + core, f"0.1 ohms and {core:.3f} of the lead, {lead.metres:g} m of {lead.area:g} mm² (IEC 60228)")
