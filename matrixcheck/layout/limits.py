"""The numbers that a layout or a reading may hold: the least and the most of each, in one place.

They are wide: no part of a machine and no meter goes beyond them. What goes beyond is a slip, or an attempt to break
something.
"""

from __future__ import annotations

from datetime import datetime
from math import isnan
from typing import NamedTuple

LARGEST_SIDE = 64
"""The most rows, and the most columns, of a matrix. Larger ones were never measured."""
LARGEST_NUMBER = 999_999
"""The largest number of a cell that is a plain integer."""
LONGEST_NUMBER = 8
"""The most characters of a cell's number that is a text, such as 9L."""

LARGEST_LAYOUT = 2_000_000
"""The most bytes of a layout file."""

LONGEST_SIDE = 1_600
"""The most dots of a photo's longer side, as it is kept."""
LARGEST_PHOTO = 1_000_000
"""The most bytes of a photo as it is kept."""
LARGEST_PICTURE = 30_000_000
"""The most bytes of a picture that a photo is made of."""
MOST_DOTS = 50_000_000
"""The most dots of such a picture."""
MOST_PHOTOS = 100
"""The most photos of a job, undone ones included."""
LARGEST_JOB_FILE = 64_000_000 + MOST_PHOTOS * LARGEST_PHOTO * 4 // 3
"""The most bytes of a job's file, which has its photos in base64."""


class Limit(NamedTuple):
    """The least and the most of a quantity, both allowed, and its unit. `str()` gives them in words."""

    least: float
    most: float
    unit: str = ""

    def holds(self, value: object) -> bool:
        """Return whether it is a number within.

        True, false, NaN and infinity are none, of however many digits a number is.
        """
        return isinstance(value, int | float) and not isinstance(value, bool) and self.least <= value <= self.most

    def nearest(self, value: float) -> float:
        """Return the number itself, or the end that it lies beyond. Raises ValueError for NaN."""
        if isnan(value):
            raise ValueError("NaN lies nowhere")
        return min(max(value, self.least), self.most)

    def __str__(self) -> str:
        return f"{figures(self.least)} to {figures(self.most)} {self.unit}".rstrip()


MEASURED_OHMS = Limit(0.0, 1_000_000_000.0, "ohms")
"""What a meter may have shown at a device."""
MEASURED = Limit(0.0, 1_000_000_000.0)
"""What a check before power may measure, in its own unit."""
DUE_OHMS = Limit(0.001, 1_000_000.0, "ohms")
"""Of a coil that is in order, and of a resistor."""
VOLTS = Limit(0.1, 1_000.0, "volts")
TOLERANCE = Limit(0.001, 0.5)
"""Of a coil's resistance, as a fraction of it."""
FAILURE_RATE = Limit(0.000001, 0.99)
"""The chance that a part is found faulty."""
COIL_CELSIUS = Limit(-40.0, 150.0, "°C")
"""A coil's temperature."""
STEP_SECONDS = Limit(0.2, 60.0, "seconds")
"""From one device to the next, in a walk that the machine times."""
SEARCH_SECONDS = Limit(0.001, 86_400.0, "seconds")
"""How long somebody lets the analyser look for causes."""
FIRST_YEAR, LAST_YEAR = 1900, 2199
"""When a reading may have been made."""


def in_time(at: datetime) -> bool:
    """Return whether a reading may have been made then."""
    return FIRST_YEAR <= at.year <= LAST_YEAR


def whole_number(text: str) -> int | None:
    """Return the whole number from 0 to LARGEST_NUMBER that these plain digits write.

    None where they are anything else.
    """
    plain = text.isascii() and text.isdecimal() and len(text.lstrip("0")) <= len(str(LARGEST_NUMBER))
    return int(text.lstrip("0") or "0") if plain else None


def figures(value: float) -> str:
    """Return a limit as it is read: no exponent, commas between thousands."""
    return f"{value:,.6f}".rstrip("0").rstrip(".")
