"""Name the places where a suspect may sit, likeliest first, with their shares."""

from __future__ import annotations

from matrixcheck.diagnosis.machine.fault_classes import DEAD_CELL, OF_CELLS
from matrixcheck.diagnosis.result import Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import part_words, unknown_parts, wire_words
from matrixcheck.layout.designators import owner
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.wires import colour_words
from matrixcheck.layout.wording import cell_words, either, lines_words
from matrixcheck.report.answer.folding import shared_out
from matrixcheck.report.answer.model import Place


def places_of(layout: Layout, suspect: Suspect, title: str, lead: Fault) -> tuple[Place, ...]:
    """Return the places, each once, with the sum of what its faults share.

    `title` and `lead`, the fault that it names, are the card's. A single place is where it is found in the machine;
    none is given where the title and the layout say no more.
    """
    naming = _Naming(layout, suspect, lead)
    shares: dict[str, float] = {}
    for fault, share in shared_out(suspect):
        words = naming.place(fault)
        shares[words] = shares.get(words, 0.0) + share
    if len(shares) > 1:
        likeliest_first = sorted(shares.items(), key=lambda entry: -round(entry[1], 9))
        return tuple(Place(words=words, share=share) for words, share in likeliest_first)
    unsaid = [one for one in shares if one.lower() not in title.lower() and not naming.is_title]
    words = ", ".join(filter(None, [*unsaid, naming.spot()]))
    return (Place(words=words, share=1.0),) if words else ()


class _Naming:
    """Names the places of one suspect: the line and the cell that its title names go unsaid."""

    def __init__(self, layout: Layout, suspect: Suspect, lead: Fault) -> None:
        self._layout = layout
        self._lead = lead
        self._line: LineKey | None = lead.lines[0] if len(lead.lines) == 1 else None
        self._cell: CellKey | None = lead.cells[0] if lead.fault in DEAD_CELL else None
        self._one_matrix = len({cell.matrix for fault in suspect.members for cell in fault.cells}) == 1

    @property
    def is_title(self) -> bool:
        """Return whether the title names the place itself."""
        return self._lead.fault in OF_CELLS and self._lead.fault not in DEAD_CELL

    def spot(self) -> str:
        """Return where in the machine the likeliest place is, as far as the layout says."""
        if self._lead.part:
            part = self._layout.part_by_ref.get(owner(self._lead.part))
            return part.place if part else ""
        if self._lead.lines or len(self._lead.cells) != 1:
            return ""
        notes = self._layout.cell(self._lead.cells[0]).notes
        return ", ".join(filter(None, [notes.zone, _REACH.get(notes.reach, notes.reach)]))

    def place(self, fault: Fault) -> str:
        """Word where a fault sits."""
        if fault.fault in DEAD_CELL:
            return f"{_within_cell(self._layout, fault)}{self._of_cell(fault.cells[0])}"
        if fault.part is not None:
            both = fault.fault is FaultClass.PLUGS_SWAPPED
            return f"plugs {fault.part} and {fault.other}" if both else part_words(fault.part)
        return self._on_line(fault) if fault.lines else _in_cells(self._layout, fault)

    def _on_line(self, fault: Fault) -> str:
        line = fault.lines[0]
        if fault.fault is FaultClass.BREAK:
            return self._broken(fault)
        if fault.fault is FaultClass.OPEN:
            return f"{either([*unknown_parts(self._layout, line)[:-1], self._first_wire(line)])}{self._of_line(line)}"
        if fault.fault is FaultClass.GROUNDED:
            return f"grounded wire{wire_words(self._layout, line)}{self._of_line(line)}"
        return f"{_PAIRS.get(fault.fault, 'driver of')} {self._lines(fault.lines)}"

    def _of_line(self, line: LineKey) -> str:
        return "" if line == self._line else f" of {self._lines((line,))}"

    def _of_cell(self, cell: CellKey) -> str:
        return "" if cell == self._cell else f" of {cell_words(self._layout, cell)}"

    def _lines(self, lines: tuple[LineKey, ...]) -> str:
        """Word lines, without the kind of their matrix where the suspect touches no other."""
        words = lines_words(self._layout, lines)
        kind = f"{self._layout.matrix(lines[0].matrix).kind} "
        return (
            words.removeprefix(kind) if self._one_matrix and words.startswith((f"{kind}row", f"{kind}col")) else words
        )

    def _first_wire(self, line: LineKey) -> str:
        """Word the wire from the plug to the first device, which is known where the chain is."""
        chain = self._layout.line(line).chain
        return f"{self._colour(line)}wire to {chain[0]}" if chain else f"first {self._colour(line)}wire"

    def _broken(self, fault: Fault) -> str:
        line = fault.lines[0]
        order = self._layout.matrix(line.matrix).cells_of(line)
        after = len(order) - len(fault.cells)
        if self._layout.line(line).chain is None:
            return "wire" if line == self._line else f"{self._lines((line,))} wire"
        whose = self._colour(line) or ("" if line == self._line else f"{self._lines((line,))} ")
        return f"{whose}wire from {order[after - 1].number} to {order[after].number}"

    def _colour(self, line: LineKey) -> str:
        wire = self._layout.line(line).wire
        return f"{colour_words(wire)} " if wire else ""


_REACH = {"hand": "by hand", "ball": "by ball"}
_PAIRS = {FaultClass.SHORTED_TOGETHER: "short of", FaultClass.CROSSED: "crossed"}


def _within_cell(layout: Layout, fault: Fault) -> str:
    cell = layout.cell(fault.cells[0])
    if fault.fault is FaultClass.DIODE_OPEN:
        return "open diode"
    if fault.fault is FaultClass.DIODE_REVERSED:
        return "reversed diode"
    return "LED, its socket or wire" if cell.notes.fitted == "led" else _DEVICE[cell.device]


_DEVICE = {
    "switch": "contacts or own wire",
    "lamp": "bulb, its socket or wire",
    "flash lamp": "bulb, its socket or wire",
    "coil": "winding or own wire",
}


def _in_cells(layout: Layout, fault: Fault) -> str:
    if fault.fault is FaultClass.KEEP_WARM_GLOW:
        return "keep-warm resistors"
    if fault.fault is FaultClass.DIODE_SHORTED:
        return f"diode of {cell_words(layout, fault.cells[0])}"
    return cell_words(layout, fault.cells[0])
