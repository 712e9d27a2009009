"""Where the screens of a job were left, so that they open there again while the program runs."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.record.job_state import JobState

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Fault


class View(NamedTuple):
    """What a grid shows: the cell under the cursor, and the first row and column in sight, from 0."""

    cursor: CellKey
    origin: tuple[int, int] = (0, 0)


class Scrolled(NamedTuple):
    """A list with the item pointed at by its name, and the first line in sight."""

    pointed: str
    top: int


class ReadTo(NamedTuple):
    """How far down a text was read, and of which state of the job it was."""

    version: tuple[Path, int]
    top: int


@dataclass(slots=True)
class LeftOff:
    """Where one job was left.

    `views` go by matrix, `lists` by the name of their page. `suspect` are the faults of the chosen suspect,
    `suspects_top` is the first line of the suspects in sight. `notes` are half written ones, by their heading.
    """

    matrix_id: str = ""
    views: dict[str, View] = field(default_factory=dict)
    suspect: tuple[Fault, ...] = ()
    suspects_top: int = 0
    lists: dict[str, Scrolled] = field(default_factory=dict)
    answer: ReadTo | None = None
    notes: dict[str, str] = field(default_factory=dict)

    def view_of(self, matrix_id: str, layout: Layout) -> View | None:
        """Return what the grid of a matrix showed, where the layout still has that cell."""
        view = self.views.get(matrix_id)
        return view if view and view.cursor in layout.matrix(matrix_id).by_key else None


def left_off(state: JobState) -> LeftOff:
    """Return where a job was left that this program hasn't shown yet: at the client's last entry."""
    cell = state.last_cell
    return LeftOff(cell.matrix, {cell.matrix: View(cell)}) if cell else LeftOff()
