"""Say why a suspect stands there, in counts of what was seen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.forward.coil_resistance import deviation_words, measured
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, DISPLACING, LASTING
from matrixcheck.diagnosis.result import Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import cell_words, count_of, numbers_words
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.report.answer.folding import shared_out
from matrixcheck.report.answer.model import Count
from matrixcheck.report.answer.symptoms import Symptoms


class Why(NamedTuple):
    """The counts of a suspect, in words as well; `against`: results that speak against it."""

    words: str
    counts: tuple[Count, ...]
    against: int


def why(layout: Layout, suspect: Suspect, seen: Symptoms, readings: Sequence[Reading]) -> Why:
    """Return why a suspect is one: what of its cells shows it, what speaks against it, what nobody tested."""
    lead = max(shared_out(suspect), key=lambda entry: round(entry[1], 9))[0]
    if lead.fault is FaultClass.WRONG_DEVICE:
        ohms = measured(readings).get(lead.cells[0])
        return Why(deviation_words(layout.cell(lead.cells[0]), ohms) if ohms is not None else "", (), 0)
    if lead.fault in DEAD_CELL and len(suspect.members[0].cells) == 1:
        return _single(layout, suspect, lead, seen)
    if lead.fault is FaultClass.DIODE_SHORTED:
        return _with_against(_through_diode(layout, suspect, seen), (), suspect)
    symptom, words = _symptom(layout, lead, seen)
    counts = _counts(layout, _reach(layout, lead), seen, symptom)
    return _with_against(_counted(layout, lead, counts, words), counts, suspect)


def _symptom(layout: Layout, fault: Fault, seen: Symptoms) -> tuple[frozenset[CellKey], str]:
    """Return the cells of a fault that show it, and what they do."""
    cells = frozenset(fault.cells)
    shows_uncalled = cells & (seen.uncalled | _marked(seen, cells, Mark.STUCK))
    if fault.fault is FaultClass.KEEP_WARM_GLOW:
        return shows_uncalled, "glow with nothing fired"
    if fault.fault is FaultClass.DEVICE_STUCK or (fault.fault in LASTING and shows_uncalled):
        return shows_uncalled, _UNCALLED[layout.matrix(fault.cells[0].matrix).kind]
    if fault.fault is FaultClass.SHORTED_TOGETHER:
        return cells & (seen.too | seen.instead), "answer with another"
    if fault.fault in DISPLACING:
        return cells & (seen.instead | seen.dead(cells)), "fail"
    return seen.dead(cells), "are dead"


_UNCALLED = {
    Kind.SWITCH: "show closed unpressed",
    Kind.LAMP: "light uncalled",
    Kind.COIL: "are on uncalled",
}


def _reach(layout: Layout, fault: Fault) -> tuple[CellKey, ...]:
    """Return the cells in which a fault shows: of a relay, those of the sides that it can't select."""
    lost = [line for line in fault.lines if fault.when and layout.line(line).when not in (None, fault.when)]
    if fault.fault is not FaultClass.RELAY_STUCK or not lost:
        return fault.cells
    places = {(line.matrix, line.place) for line in lost}
    return tuple(cell for cell in fault.cells if (cell.matrix, cell.column) in places)


def _marked(seen: Symptoms, cells: frozenset[CellKey], mark: Mark) -> frozenset[CellKey]:
    return frozenset(cell for cell in cells if seen.marks.get(cell) is mark)


def _counts(layout: Layout, reach: Sequence[CellKey], seen: Symptoms, symptom: frozenset[CellKey]) -> tuple[Count, ...]:
    found = []
    for matrix in layout.matrices:
        cells = [cell for cell in reach if cell.matrix == matrix.id]
        if cells:
            known = seen.tested(cells) | (symptom & frozenset(cells))
            shown = sum(cell in symptom for cell in cells)
            count = Count(matrix=matrix.id, seen=shown, tested=len(known), untested=len(cells) - len(known))
            found.append(count)
    return tuple(found)


def _counted(layout: Layout, fault: Fault, counts: Sequence[Count], doing: str) -> str:
    """Word the counts: "6 of 6 tested switches are dead; 2 untested"."""
    said = [
        f"{count.seen} of {count.tested} tested {_devices(layout, fault, count)}" for count in counts if count.tested
    ]
    untested = sum(count.untested for count in counts)
    tested = f"{' and '.join(said)} {doing if said else ''}".strip() if said else "none of its cells is tested"
    return f"{tested}; {untested} untested" if untested else tested


def _devices(layout: Layout, fault: Fault, count: Count) -> str:
    cells = [layout.cell(cell) for cell in _reach(layout, fault) if cell.matrix == count.matrix]
    kinds = {cell.device for cell in cells}
    one = kinds.pop() if len(kinds) == 1 else "device"
    return {"switch": "switches"}.get(one, f"{one}s")


def _single(layout: Layout, suspect: Suspect, lead: Fault, seen: Symptoms) -> Why:
    """Return why one cell alone is dead: others on its lines work."""
    cell = layout.cell(lead.cells[0])
    matrix = layout.matrix(cell.key.matrix)
    beside = {
        other.key
        for line in (cell.column_line, cell.row_line)
        if line in matrix.lines
        for other in matrix.cells_of(line)
    } - {cell.key}
    working = sum(seen.marks.get(other) is Mark.WORKING for other in beside)
    count = Count(
        matrix=cell.key.matrix,
        seen=working,
        tested=len(seen.tested(beside)),
        untested=len(beside - seen.tested(beside)),
    )
    if not beside:
        return _with_against("it is dead", (), suspect)
    lines = "row and column" if matrix.rows_shared else "line"
    words = f"{count.seen} of {count.tested} tested neighbours on its {lines} work"
    return _with_against(words if count.tested else f"no neighbour on its {lines} is tested", (count,), suspect)


def _through_diode(layout: Layout, suspect: Suspect, seen: Symptoms) -> str:
    """Say which cell showed through a shorted diode, and while which was called."""
    for cell, reading in sorted(seen.uncalled_by.items(), key=lambda entry: entry[0]):
        if {cell, reading.cell} & set(suspect.explains):
            called = reading.cell
            how = (
                f"while {cell_words(layout, called)} was {_CALLED[layout.cell(called).device]}" if called else "at rest"
            )
            held = f", with {numbers_words(layout, reading.held, 'and')} held" if reading.held else ""
            return f"{cell_words(layout, cell)} showed {how}{held}"
    return f"fits {count_of(len(suspect.explains), 'result')}"


_CALLED = {"switch": "pressed", "lamp": "lit", "flash lamp": "lit", "coil": "fired"}


def _with_against(words: str, counts: tuple[Count, ...], suspect: Suspect) -> Why:
    """Put after the first clause what speaks against a suspect; that nothing does only where all cells agree."""
    against = len(suspect.contradicts)
    all_agree = all(count.seen == count.tested for count in counts)
    said = f"{count_of(against, 'result')} against it" if against else "nothing against it" if all_agree else ""
    first, *rest = words.split("; ")
    return Why("; ".join(filter(None, [first, said, *rest])), counts, against)
