"""What was kept, undone or redone, called back in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from matrixcheck.layout.model import Cell
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.answers import Kept, Undone
from matrixcheck.record.cell_state import Standing, Standings
from matrixcheck.report.glyphs import GLYPHS

NAMED = 3
"""Cells that were something else before and are named, where many are kept at once."""


def kept_words(kept: Sequence[Kept], standings: Standings, differed: str = "&") -> str:
    """Call back what was kept, by name: of one cell all that was typed, of several how many are what.

    `differed` is the key that lets the outcome count which was corrected.
    """
    if not kept:
        return ""
    last = kept[-1]
    if last.number is None or last.cell is None:
        return f"kept: {last.name}"
    if len({one.cell for one in kept}) > 1:
        return f"kept: {_counted(kept)}"
    standing = standings[last.cell]
    if last.ohms is not None:
        return f"kept: {last.number} {last.name}: {_measured(standing.cell, last.ohms)}"
    beside = "" if last.deferred is not None else _beside(standing, standings)
    return f"kept: {last.number} {last.name} {_one_mark(last, differed)}{beside}"


def _counted(kept: Sequence[Kept]) -> str:
    """Return how many cells are what now, and which of them were something else before."""
    counts = Counter("later" if one.deferred is not None else str(one.mark) for one in kept)
    were = [f"{one.number} was {one.before}" for one in kept if one.before not in (Mark.UNTESTED, one.mark)]
    first = ", ".join(f"{count} {what}" for what, count in counts.items())
    more = f" and {len(were) - NAMED} more" if len(were) > NAMED else ""
    return f"{first} ({', '.join(were[:NAMED])}{more})" if were else first


def _measured(cell: Cell, ohms: float) -> str:
    # What a coil should have is known to the analyser's room, which the first paint can't wait for.
    from matrixcheck.report.measured import due_ohms, judged  # noqa: PLC0415

    due = due_ohms(cell)
    return f"{ohms:g} Ω, due {due}: {judged(cell, ohms)}" if due else f"{ohms:g} Ω, {judged(cell, ohms)}"


def _beside(standing: Standing, standings: Standings) -> str:
    """Return what the last exercise of a cell showed as well or instead."""
    said = ((standing.echoed, "too"), (standing.answered_instead, "instead"))
    named = ((", ".join(_number(key, standings) for key in keys), how) for keys, how in said if keys)
    return "".join(f", {numbers} answered {how}" for numbers, how in named)


def _number(key: CellKey, standings: Standings) -> str:
    return str(standings[key].cell.number) if key in standings else key.address


def _one_mark(last: Kept, differed: str) -> str:
    mark = "later" if last.deferred is not None else f"{GLYPHS[last.mark]} {last.mark}"
    if last.intermittent and last.deferred is None:
        mark = f"{mark}, comes and goes"
    elif last.corrected:
        mark = f"{mark}, corrected from {last.before}; {differed} if it did both"
    if last.passes_left and last.deferred is None:
        mark = f"{mark}, {'one more pass' if last.passes_left == 1 else f'{last.passes_left} more passes'} needed"
    return mark


def differed_words(kept: Sequence[Kept]) -> str:
    """Say that both outcomes of a cell count."""
    return f"both count: {kept[-1].number} {kept[-1].name} comes and goes" if kept else ""


def undone_words(undone: Undone) -> str:
    """Say what was undone."""
    return f"undone: {'; '.join(undone.what)}{_counts_again(undone.back)}"


def redone_words(back: Undone) -> str:
    """Say what a redo brought back."""
    gone = f"; undone: {'; '.join(back.back)}" if back.back else ""
    return f"counts again: {'; '.join(back.what)}{gone}"


def _counts_again(back: Sequence[str]) -> str:
    return f"; counts again: {'; '.join(back)}" if back else ""
