"""How wide things are: where a screen is a phone's, where it is wide, and what has a width of its own.

The stylesheets know these as variables (`themes.py`), the classes of screens as breakpoints.
"""

from __future__ import annotations

PHONE = 50
"""Screens narrower than this are a phone's."""
WIDE = 84
"""From here on the pane stands beside the grid."""
PANE = 33
"""The pane beside the grid."""
PANE_TEXT = PANE - 3
LEAST_PANE = 5
"""Lines that the pane keeps below the grid."""
LABELS = 3
"""The labels of a grid's rows."""
FIGURES = 12
"""The large number, but for one that needs more."""
SHEET, QUESTION = 64, 60
"""The text of a sheet over another screen, and of a question."""
HELP_LINE = 46
"""A line of the help's keys."""
SHEET_BESIDE = 6
"""What a sheet has beside its text."""
BREAKPOINTS = [(0, "-phone"), (PHONE, "-narrow"), (WIDE, "-wide")]
"""The class that a screen has from a width on."""


def sheet_width(screen: int, most: int = SHEET) -> int:
    """Give the width of a sheet's text on a screen."""
    return min(screen - SHEET_BESIDE, most)


def class_of(screen: int) -> str:
    """Give the class of a screen of this width."""
    return max(point for point in BREAKPOINTS if point[0] <= screen)[1]
