"""A repair in words: what is mostly done at a place, what a name stands for, and what was kept."""

from __future__ import annotations

from collections import Counter

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.designators import is_ref
from matrixcheck.layout.model import Layout
from matrixcheck.layout.naming import place_named
from matrixcheck.layout.wording import place_words
from matrixcheck.record.job_state import RepairMade
from matrixcheck.record.outdated import cells_touched

REPLACED = "replaced"
ASKED = "Name what was repaired: Q3, X5-4, column 3, lamp 21. Or pick a place below."


def usual_work(text: str, layout: Layout) -> str:
    """Return what is mostly done at a place: a part is replaced; of a wire, a plug contact or a cell nobody knows."""
    try:
        place = place_named(text, layout)
    except MatrixCheckError:
        return ""
    return REPLACED if is_ref(place) and "-" not in place and not place.startswith(("X", "J", "P")) else ""


def what_is_meant(text: str, layout: Layout) -> str:
    """Return what a name stands for, and how many cells work through it. Raises MatrixCheckError for none."""
    place = place_named(text, layout)
    part = layout.part_by_ref.get(place) or layout.part_by_ref.get(place.partition("-")[0])
    named = f"{place}, {part.name}" if part and part.name else place_words(layout, place)
    by_matrix = Counter(cell.matrix for cell in cells_touched(layout, place))
    cells = ", ".join(f"{by_matrix[name]} of {name}" for name in layout.matrix_ids if by_matrix[name])
    return f"{named}. Cells behind it: {cells or 'none'}."


def outside_words(text: str) -> str:
    """Return what follows from a repair of something that is no part of the layout."""
    return f"{text}, outside the layout. Nothing becomes due for a retest."


def repaired_words(made: RepairMade, layout: Layout) -> str:
    """Return what was kept, and how much is to be tested again."""
    place = made.place if made.outside else place_words(layout, made.place)
    count = len(made.due)
    due = f"{count} {'cell is' if count == 1 else 'cells are'} to be tested again" if count else "nothing to test again"
    return f"kept: {place} repaired; {due}"
