"""A multimeter across two points of a bank with the power off: what the ohms range and the diode test read, on a
healthy bank and on one with a fault.

Drivers are off and seen as the diode in each; plugs that are pulled part their lines from them. All values are common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Collection

from tests.spice.bank import Bank, Fault, Place, address
from tests.spice.netlist import GROUND, SUPPLY, Netlist

OPEN = 10e3
"""Ohms from which on a meter's reading counts as open."""

_OHMS_VOLTS, _SERIES = 0.3, 1e3  # the ohms range stays below what a diode needs
_DIODE_VOLTS, _DIODE_SERIES = 2.5, 2.2e3
_WIRE, _CONTACT, _RAIL, _PULL_UP = 0.02, 0.02, 50.0, 1e3
_SHORT = 0.1
_COLD = 0.1  # a cold filament, as a share of its hot resistance
_FRAME = "frame"

Node = Callable[[str], str]


class Meter:
    """A bank on the bench. `unplugged` lines are off their board; on `quiet` lines every switch is open, also those
    that rest closed, and no lamp or flash lamp is in its socket. `fault` is what is wrong with it, `pressed` a switch
    that is held closed, `own_wire_off` a place whose wire to its row is off, `open_device` one whose switch is open or
    bulb out."""

    def __init__(
        self,
        bank: Bank,
        unplugged: Collection[str],
        quiet: Collection[str] = (),
        fault: Fault | None = None,
        *,
        pressed: Place | None = None,
        own_wire_off: Place | None = None,
        open_device: Place | None = None,
    ) -> None:
        self._bank = bank
        self._unplugged = frozenset(unplugged)
        self._quiet = frozenset(quiet)
        self._fault = fault or Fault("none")
        self._pressed, self._own_wire_off, self._open_device = pressed, own_wire_off, open_device

    def ohms(self, a: str, b: str) -> float:
        """Ohms from node to node: `c3` and `r2` are wires at the plug, `c3:r2c3` a lug of a device, `m2_3` the joint of
        device and diode, `0` ground."""
        volts = self._volts(a, b, _OHMS_VOLTS, _SERIES)
        return _SERIES * volts / (_OHMS_VOLTS - volts) if volts < _OHMS_VOLTS * 0.9999 else float("inf")

    def diode(self, a: str, b: str) -> tuple[float, float]:
        """Volts of the diode test, red at `a`, then at `b`. An open circuit shows about 2.5."""
        return self._volts(a, b, _DIODE_VOLTS, _DIODE_SERIES), self._volts(b, a, _DIODE_VOLTS, _DIODE_SERIES)

    def _volts(self, a: str, b: str, source: float, series: float) -> float:
        """Volts between the tips: the meter floats, so that ground is a node like others unless a tip is there."""
        if a == b:
            return 0.0
        netlist = Netlist(source)
        moved = {GROUND: _FRAME, b: GROUND}
        self._lay(netlist, moved)
        red = moved.get(a, a)
        netlist.resistor(SUPPLY, red, series)
        return netlist.solve()[red]

    def _lay(self, netlist: Netlist, moved: dict[str, str]) -> None:
        bank, fault = self._bank, self._fault

        def node(name: str) -> str:
            return moved.get(name, name)

        for key in bank.lines:
            if key not in self._unplugged:
                self._board(netlist, key, node)
            for place in bank.cells_of(key):
                if not (place == self._own_wire_off and key[0] == ("r" if bank.shared else "c")):
                    netlist.resistor(node(self._wire_to(key, place)), node(f"{key}:{address(place)}"), _WIRE)
        if fault.fault == "grounded":
            netlist.resistor(node(fault.lines[0]), node(GROUND), _SHORT)
        if fault.fault == "shorted-together":
            netlist.resistor(node(fault.lines[0]), node(fault.lines[1]), _SHORT)
        for place in sorted(bank.fitted):
            self._cell(netlist, place, node)

    def _wire_to(self, key: str, place: Place) -> str:
        """The node that a line's wire comes from at a lug: its plug's, unless a fault parts or crosses it."""
        fault = self._fault
        if key not in fault.lines:
            return key
        if fault.fault == "crossed":
            return next(line for line in fault.lines if line != key)
        cut = (fault.fault == "open" and fault.part is None) or (fault.fault == "break" and place in fault.cells)
        return f"{key}beyond" if cut else key

    def _cell(self, netlist: Netlist, place: Place, node: Node) -> None:
        bank, fault = self._bank, self._fault
        row, column = place
        top = node(f"c{column}:{address(place)}")
        low = node(f"r{row}:{address(place)}") if f"r{row}" in bank.lines else node(GROUND)
        wrong = fault.fault if fault.cells == (place,) and not fault.lines else ""
        if wrong == "device-stuck" and bank.kind != "switch":
            netlist.resistor(low, node(GROUND), _SHORT)
        ohms = self._device(place, wrong)
        middle = node(f"m{row}_{column}") if bank.diodes else low
        if bank.diodes and wrong != "diode-open":
            ends = (middle, low) if bank.kind != "switch" or bank.strobe == "row" else (low, middle)
            if wrong == "diode-shorted":
                netlist.resistor(*ends, _SHORT)
            else:
                netlist.diode(*(ends if wrong != "diode-reversed" else ends[::-1]), "DPOWER")
        if ohms is not None:
            netlist.resistor(top, middle, ohms)

    def _device(self, place: Place, wrong: str) -> float | None:
        """Ohms of what sits at a place; None where nothing conducts."""
        row, column = place
        note = self._bank.notes.get(place, {})
        quiet = place == self._open_device or not self._quiet.isdisjoint({f"r{row}", f"c{column}"})
        if wrong == "device-dead":
            return None
        if self._bank.kind == "switch":
            closed = note.get("rest") == "closed" or place == self._pressed or wrong == "device-stuck"
            return _CONTACT if closed and not quiet else None
        if self._bank.lamp(place):
            hot = 60.0 if self._bank.kind == "lamp" else self._bank.volts
            return None if quiet else hot * _COLD
        return float(note.get("ohms", 4.2))

    def _board(self, netlist: Netlist, key: str, node: Node) -> None:
        """What a board that has no power is to a meter: a resistor to a rail, or a driver's diode."""
        stuck = self._fault.fault == "stuck-on" and key in self._fault.lines
        if self._bank.kind == "switch" and (key[0] == "c") is not (self._bank.strobe == "column"):
            netlist.resistor(node(key), node(GROUND), _SHORT if stuck else _PULL_UP + _RAIL)
        elif key[0] == "c" and self._bank.kind != "switch":
            self._driver(netlist, node(key), node(f"{key}rail"), stuck)
            netlist.resistor(node(f"{key}rail"), node(GROUND), _RAIL)
        else:
            self._driver(netlist, node(GROUND), node(key), stuck)

    def _driver(self, netlist: Netlist, anode: str, cathode: str, stuck: bool) -> None:
        if stuck:
            netlist.resistor(anode, cathode, _SHORT)
        else:
            netlist.diode(anode, cathode, "DPOWER")


def diode_test(state: str = "healthy") -> tuple[float, float]:
    """Volts that a diode test reads on a diode by itself, red at the end without the band, then at the band. Both ends
    go by the band, so that it reads the same whichever way round it was soldered in. `state`: healthy, open or
    shorted. An open circuit shows about 2.5."""
    found = []
    for red, black in (("a", "k"), ("k", "a")):
        netlist = Netlist(_DIODE_VOLTS)
        netlist.resistor(SUPPLY, red, _DIODE_SERIES)
        if state == "healthy":
            netlist.diode("a", "k", "DPOWER")
        elif state == "shorted":
            netlist.resistor("a", "k", _SHORT)
        netlist.resistor(black, GROUND, 1e-3)
        found.append(netlist.solve()[red])
    return found[0], found[1]


def pin_volts(supply: float, stuck: bool) -> float:
    """Volts at an input's pin with its plug off: pulled up, or held by a chip that has failed short."""
    netlist = Netlist(supply)
    netlist.resistor(SUPPLY, "pin", _PULL_UP)
    netlist.resistor("pin", GROUND, 5.0 if stuck else 1e6)
    return netlist.solve()["pin"]
