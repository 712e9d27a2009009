"""The wiring of a bank with its faults: from each driver or sense input over its plug along the loom to the cells."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tests.spice.bank import Bank, Conductor, Fault, Place
from tests.spice.netlist import GROUND, Netlist

_CONTACT = 0.02  # ohms
_TOUCH = 0.05  # ohms where two conductors touch


@dataclass(frozen=True)
class Board:
    """What a layout doesn't say: electrical values of one machine. Ohms, volts, amperes; brightness as a fraction of
    the current at full command. All of them common practice, no source."""

    threshold: float = 1.7
    pull_up: float = 1000.0
    strong: bool = True
    polar: bool = True
    filament: float = 60.0
    filament_faint: float = 0.085
    filament_bright: float = 0.6
    led_amperes: float = 0.02
    led_faint: float = 0.03
    led_bright: float = 0.55
    coil_ohms: dict[Place, float] = field(default_factory=dict)
    feed_ohms: float = 0.2
    flash_amperes: float = 1.0
    flash_faint: float = 0.15
    flash_led_amperes: float = 0.07
    flash_led_bright: float = 0.4
    pull_in: float = 0.5


class Wiring:
    """Where each conductor leads once the faults are in. Nodes: `c3d` at the driver, `c3` at the plug's loom side,
    `c3x2` beyond a break after two cells."""

    def __init__(self, bank: Bank, faults: tuple[Fault, ...]) -> None:
        self.bank = bank
        self.faults = faults
        self.points: dict[Any, Any] = {}  # operating points already found with these faults
        self.blown = frozenset(fault.part for fault in faults if fault.fault == "fuse-blown")
        self.mute = frozenset(line for fault in faults if _is_chip(fault) for line in fault.lines)
        self.cut = frozenset(
            line
            for fault in faults
            if (fault.fault in ("open", "unplugged") and not _is_chip(fault)) or _relay_in_path(fault, "rest")
            for line in fault.lines
        )
        self.stuck = frozenset(
            line
            for fault in faults
            if fault.fault == "stuck-on" or _relay_in_path(fault, "pulled")
            for line in fault.lines
        )
        self.relay = next((fault.when for fault in faults if fault.fault == "relay-stuck" and not fault.lines), None)
        self._swapped = {}
        for fault in faults:
            if fault.fault == "crossed":
                first, second = fault.lines
                self._swapped |= {first: second, second: first}
        self._breaks: dict[str, list[Fault]] = {}
        for fault in faults:
            if fault.fault == "break" and len(fault.lines) == 1:
                self._breaks.setdefault(fault.lines[0], []).append(fault)
        self._header, self._loom = self._plugged()
        self._of_cell: dict[Place, set[str]] = {}
        for fault in faults:
            for cell in fault.cells:
                self._of_cell.setdefault(cell, set()).add(fault.fault)
        self.faulty = frozenset(self._of_cell)

    def at(self, cell: Place) -> set[str]:
        """The faults of one cell."""
        return self._of_cell.get(cell, set())

    def driver(self, line: str) -> str:
        """The node at the driver or sense input."""
        return f"{line}d"

    def tap(self, line: str, cell: Place) -> str:
        """The node where a cell hangs on its line: the loom, or beyond the last break before it."""
        breaks = self._breaks.get(line)
        if not breaks:
            return line
        place = self.bank.cells_of(line).index(cell)
        passed = [
            fault.after or 0
            for fault in breaks
            if (cell in fault.cells if fault.cells else (fault.after or 0) <= place)
        ]
        return f"{line}x{max(passed)}" if passed else line

    def _plugged(self) -> tuple[dict[str, str], dict[str, str]]:
        """Where each line's pin of the header meets a contact of a plug that sits elsewhere: the pins by line, and the
        wires by the pin on which they sit."""
        pins: dict[str, str] = {}
        wires: dict[str, str] = {}
        for fault in self.faults:
            if fault.fault not in ("plugs-swapped", "plug-shifted"):
                continue
            goes_to = {fault.part: fault.other or fault.part, fault.other: fault.part}
            for key, line in self.bank.lines.items():
                for ref in line.path:
                    plug, _, contact = ref.partition("-")
                    if plug in (fault.part, fault.other) and contact:
                        number = int(contact) + (fault.after or 0)
                        pins[key] = ref
                        wires[f"{goes_to[plug]}-{number}"] = key
        return pins, wires

    def lay(self, netlist: Netlist) -> None:
        """Contacts, shorts and grounds of every line into a netlist."""
        for line in self.bank.lines:
            pin = self._header.get(line)
            wire = line if pin is None else self._loom.get(pin)
            if line not in self.cut and wire is not None:
                netlist.resistor(self.driver(line), self._swapped.get(wire, wire), _CONTACT)
        for fault in self.faults:
            if fault.fault == "shorted-together":
                netlist.resistor(*fault.lines, _TOUCH)
            elif fault.fault == "grounded":
                netlist.resistor(fault.lines[0], GROUND, _TOUCH)

    def fed(self, line: Conductor | None = None) -> bool:
        """Whether the supply of the bank, and of a column where one is given, is whole."""
        parts = self.bank.supply + (line.supply if line else ())
        return not self.blown & set(parts)


def _is_chip(fault: Fault) -> bool:
    return fault.fault == "open" and fault.part is not None and fault.part.startswith("U") and "-" not in fault.part


def _relay_in_path(fault: Fault, when: str) -> bool:
    """A relay that feeds lines when it is pulled in, stuck in that position. One that selects sides names no lines."""
    return fault.fault == "relay-stuck" and bool(fault.lines) and fault.when == when
