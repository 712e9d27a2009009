"""What stands on an empty bench: what this is, what can be done first, and the caution."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from pathlib import Path

from matrixcheck.report.cautions import FIRST
from matrixcheck.tui.text.spans import Row, row, wrapped

ABOUT = (
    "matrixcheck keeps what a machine's test mode shows, cell by cell, names what failures share, and says what to "
    "test or measure next."
)


class Step(Enum):
    """One thing that can be done first: its name, and what more is said of it."""

    DEMO = ("Look at the demo machine", "an invented evening in a book of its own; quitting it comes back here")
    CHART = ("Start from a chart", "the manual's chart, as CSV or a spreadsheet, becomes a layout")
    LAYOUT = ("Start from a layout", "one of the program's, bare sizes too, or a file of your own")

    @property
    def title(self) -> str:
        """Return its name."""
        return self.value[0]

    @property
    def says(self) -> str:
        """Return what more is said of it."""
        return self.value[1]


def steps(*, demo: bool, own_files: bool) -> tuple[Step, ...]:
    """Return what can be done first; `own_files`: files of this computer may be named."""
    able = {Step.DEMO: demo, Step.CHART: own_files, Step.LAYOUT: True}
    return tuple(step for step in Step if able[step])


def first_words(width: int) -> tuple[Row, ...]:
    """Return what this is, and the caution."""
    return (
        row("The bench is empty.", "title"),
        *wrapped(ABOUT, width),
        *wrapped(FIRST, width, "alert"),
        (),
    )


def demo_words(own: Path, here: Path, key: str, width: int) -> Sequence[Row]:
    """Return what the demonstration's bench says: all is invented, where it lies, the `key` that goes back."""
    said = f"The demo's own book, {here}: everything in it is invented. {key} goes back to {own}."
    return wrapped(said, width, "alert")
