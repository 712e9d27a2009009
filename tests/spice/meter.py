"""A multimeter across two points of a healthy bank with the power off: what the ohms range and the diode test read.

Drivers are off and seen as the diode in each; plugs that are pulled part their lines from them. All values are common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection

from tests.spice.bank import Bank
from tests.spice.netlist import GROUND, SUPPLY, Netlist

OPEN = 10e3
"""Ohms from which on a meter's reading counts as open."""

_OHMS_VOLTS, _SERIES = 0.3, 1e3  # the ohms range stays below what a diode needs
_WIRE, _CONTACT, _RAIL, _PULL_UP = 0.02, 0.02, 50.0, 1e3
_COLD = 0.1  # a cold filament, as a share of its hot resistance


class Meter:
    """A healthy bank on the bench. `unplugged` lines are off their board; on `quiet` lines every switch is open, also
    those that rest closed, and no lamp or flash lamp is in its socket."""

    def __init__(self, bank: Bank, unplugged: Collection[str], quiet: Collection[str] = ()) -> None:
        self._bank = bank
        self._unplugged = frozenset(unplugged)
        self._quiet = frozenset(quiet)

    def ohms(self, a: str, b: str) -> float:
        """Ohms from node to node: `c3` and `r2` are wires at the plug, `c3:r2c3` a lug of a device, `0` ground."""
        netlist = Netlist(_OHMS_VOLTS)
        self._lay(netlist, moved={b: GROUND})
        netlist.resistor(SUPPLY, a, _SERIES)
        volts = netlist.solve()[a] if a != b else 0.0
        return _SERIES * volts / (_OHMS_VOLTS - volts) if volts < _OHMS_VOLTS * 0.9999 else float("inf")

    def _lay(self, netlist: Netlist, moved: dict[str, str]) -> None:
        bank = self._bank

        def node(name: str) -> str:
            return moved.get(name, name)

        for key in bank.lines:
            if key not in self._unplugged:
                self._board(netlist, key, node(key))
            for row, column in bank.cells_of(key):
                netlist.resistor(node(key), node(f"{key}:r{row}c{column}"), _WIRE)
        for row, column in sorted(bank.fitted):
            top = node(f"c{column}:r{row}c{column}")
            low = node(f"r{row}:r{row}c{column}") if f"r{row}" in bank.lines else GROUND
            ohms = self._device((row, column))
            if ohms is None:
                continue
            middle = low
            if bank.diodes:
                middle = f"m{row}_{column}"
                anode, cathode = (middle, low) if bank.kind != "switch" or bank.strobe == "row" else (low, middle)
                netlist.diode(anode, cathode, "DPOWER")
            netlist.resistor(top, middle, ohms)

    def _device(self, place: tuple[int, int]) -> float | None:
        """Ohms of what sits at a place; None where nothing conducts."""
        row, column = place
        note = self._bank.notes.get(place, {})
        quiet = not self._quiet.isdisjoint({f"r{row}", f"c{column}"})
        if self._bank.kind == "switch":
            return _CONTACT if note.get("rest") == "closed" and not quiet else None
        if self._bank.lamp(place):
            hot = 60.0 if self._bank.kind == "lamp" else self._bank.volts
            return None if quiet else hot * _COLD
        return float(note.get("ohms", 4.2))

    def _board(self, netlist: Netlist, key: str, node: str) -> None:
        """What a board that has no power is to a meter: a resistor to a rail, or a driver's diode."""
        if self._bank.kind == "switch" and (key[0] == "c") is not (self._bank.strobe == "column"):
            netlist.resistor(node, GROUND, _PULL_UP + _RAIL)
        elif key[0] == "c" and self._bank.kind != "switch":
            netlist.diode(node, f"{key}rail", "DPOWER")
            netlist.resistor(f"{key}rail", GROUND, _RAIL)
        else:
            netlist.diode(GROUND, node, "DPOWER")


def diode_test() -> tuple[float, float]:
    """Volts that a diode test reads on a good diode, red at the end without the band, then at the band. Both ends go by
    the band, so that it reads the same whichever way round it was soldered in. An open circuit shows about 2.5."""
    found = []
    for red, black in (("a", "k"), ("k", "a")):
        netlist = Netlist(2.5)
        netlist.resistor(SUPPLY, red, 2.2e3)
        netlist.diode("a", "k", "DPOWER")
        netlist.resistor(black, GROUND, 1e-3)
        found.append(netlist.solve()[red])
    return found[0], found[1]
