"""Name the limits that earth continuity is held to: general principle of appliance testing, whose figures differ by
country."""

from __future__ import annotations

from enum import StrEnum


class EarthLimit(StrEnum):
    """Name the most that an exposed metal part may read to the earth pin. Local codes come first."""

    PLUS_LEAD = "0.1-ohm-plus-lead"
    """0.1 ohms and the resistance of the lead's earth conductor."""
    BY_LENGTH = "0.3-ohm-by-length"
    """0.3 ohms up to 5 m of lead, 0.1 for each further 7.5 m, at most 1."""
    FLAT = "1-ohm"
    """1 ohm, whatever the lead."""
