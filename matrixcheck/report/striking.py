"""What striking a line of the history out takes along, or having it count again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from matrixcheck.layout.places import CellKey
from matrixcheck.record.strikes import Strike


def strike_words(what: str, strike: Strike) -> tuple[str, str]:
    """Return the question before a line is struck out, or counts again, that reaches further; and what it takes
    along."""
    question = f"Count it again? {what}" if strike.back else f"Strike it out? {what}"
    more = f"It changes how {counted_cells(strike.cells)} stand." if strike.cells else ""
    stop = "A coil counts as on at rest from then on: the power must be off." if strike.stop else ""
    return question, " ".join(filter(None, [more, stop]))


def counted_cells(cells: Iterable[CellKey]) -> str:
    """Return how many cells of which matrix, as in "3 cells of switches and 1 of lamps"."""
    by_matrix = Counter(cell.matrix for cell in cells)
    (first, count), *others = by_matrix.items()
    words = [f"{count} {'cell' if count == 1 else 'cells'} of {first}"]
    words += [f"{many} of {matrix}" for matrix, many in others]
    return words[0] if not others else f"{', '.join(words[:-1])} and {words[-1]}"
