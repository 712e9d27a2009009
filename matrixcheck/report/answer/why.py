"""Say why a suspect stands there, in counts of what was seen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.forward.coil_resistance import deviation_words, measured
from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, DISPLACING, LASTING
from matrixcheck.diagnosis.result import Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import count_of, numbers_words
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.layout.wording import cell_words, line_words
from matrixcheck.report.answer.model import Count
from matrixcheck.report.answer.symptoms import Symptoms


class Why(NamedTuple):
    """The counts of a suspect, in words as well; `against`: results that speak against it."""

    words: str
    counts: tuple[Count, ...]
    against: int


def why(layout: Layout, suspect: Suspect, lead: Fault, seen: Symptoms, readings: Sequence[Reading]) -> Why:
    """Return why a suspect is one: what the cells of its `lead` show, what speaks against it, what is untested."""
    if lead.fault is FaultClass.WRONG_DEVICE:
        return Why(_first_sentences(ohms_words(layout, lead.cells[0], readings)), (), 0)
    if lead.fault in DEAD_CELL:
        return _single(layout, suspect, lead, seen)
    if lead.fault is FaultClass.DIODE_SHORTED:
        return _with_against(_through_diode(layout, suspect, seen), (), suspect)
    if lead.fault is FaultClass.DEVICE_STUCK:
        return _with_against(_stuck(layout, lead.cells[0], seen), (), suspect)
    symptom, words = _symptom(layout, lead, seen)
    counts = _counts(layout, _reach(layout, lead), seen, symptom)
    return _with_against(_counted(layout, lead, counts, words), counts, suspect)


def ohms_words(layout: Layout, key: CellKey, readings: Sequence[Reading]) -> str:
    """Say all that a coil's last resistance means."""
    ohms = measured(readings).get(key)
    return deviation_words(layout.cell(key), ohms) if ohms is not None else ""


def _first_sentences(text: str) -> str:
    """Return as many sentences from the beginning as two lines hold."""
    said = ""
    for sentence in text.split(". "):
        longer = f"{said}. {sentence}" if said else sentence
        if said and len(longer) > TWO_LINES:
            break
        said = longer
    return said


TWO_LINES = 130


def _symptom(layout: Layout, fault: Fault, seen: Symptoms) -> tuple[frozenset[CellKey], str]:
    """Return the cells of a fault that show it, and what they do."""
    cells = frozenset(fault.cells)
    shown = cells & (seen.uncalled | _marked(seen, cells, Mark.STUCK))
    if fault.fault is FaultClass.KEEP_WARM_GLOW or (fault.fault in LASTING and shown):
        at_rest = shown <= seen.at_rest
        does = (_AT_REST if at_rest else _WITH_OTHERS)[layout.matrix(fault.cells[0].matrix).kind]
        return shown, does
    if fault.fault is FaultClass.SHORTED_TOGETHER:
        return cells & (seen.too | seen.instead), "answer with another"
    if fault.fault in DISPLACING:
        return cells & (seen.instead | seen.dead(cells)), "fail"
    return seen.dead(cells), "dead"


_WITH_OTHERS = {
    Kind.SWITCH: "show with others",
    Kind.LAMP: "light with others",
    Kind.COIL: "come on with others",
}
_AT_REST = {
    Kind.SWITCH: "show with nothing pressed",
    Kind.LAMP: "lit with nothing called",
    Kind.COIL: "on with nothing fired",
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
    """Word the counts: "6 of 6 tested switches of column 3 dead; 2 untested"."""
    said = [
        f"{count.seen} of {count.tested} tested {_devices(layout, fault, count)}" for count in counts if count.tested
    ]
    untested = sum(count.untested for count in counts)
    where = _where(layout, fault)
    tested = f"{' and '.join(said)}{where} {doing}" if said else f"nothing{where} is tested"
    return f"{tested}; {untested} untested" if untested else tested


def _where(layout: Layout, fault: Fault) -> str:
    """Word what the cells of a fault have in common, after a blank."""
    if fault.fault is FaultClass.BREAK:
        return f" beyond a break in {_line(layout, fault.lines[0])}"
    if fault.part is not None and len(fault.lines) != 1:
        return f" behind {fault.part}"
    if fault.lines:
        lines = fault.lines[:1] if fault.fault in LASTING else fault.lines
        return f" of {' and '.join(_line(layout, line) for line in lines)}"
    return ""


def _line(layout: Layout, line: LineKey) -> str:
    """Word a line without the kind of its matrix, which its devices say."""
    words = line_words(layout, line)
    kind = f"{layout.matrix(line.matrix).kind} "
    return words.removeprefix(kind) if words.startswith((f"{kind}row ", f"{kind}column ")) else words


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
    named = cell_words(layout, cell.key)
    if not count.tested:
        return _with_against(f"{named} is dead; none of its neighbours is tested", (count,), suspect)
    said = f"{count.seen} of {count.tested} tested neighbours of {named} work"
    return _with_against(said, (count,), suspect)


def _stuck(layout: Layout, key: CellKey, seen: Symptoms) -> str:
    """Say how a stuck device was noticed."""
    named = cell_words(layout, key)
    if key not in seen.uncalled:
        return f"{named} was marked {seen.marks[key]}" if key in seen.marks else f"{named} is untested"
    return f"{named} shows {'at rest' if key in seen.at_rest else 'with others'}"


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
    said = f"{against} against" if against else "none against" if all_agree else ""
    first, *rest = words.split("; ")
    return Why("; ".join(filter(None, [first, said, *rest])), counts, against)
