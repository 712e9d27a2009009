"""A switch bank: each strobed line is pulled low in turn while the sense inputs, pulled up, are read."""

from __future__ import annotations

from tests.spice.bank import Bank, Place
from tests.spice.netlist import GROUND, SUPPLY, Netlist
from tests.spice.wiring import Board, Wiring

_DRIVER = 15.0  # ohms, a saturated transistor
_CLOSED = 0.2  # ohms
_SHORTED = 0.1  # ohms


def scan(bank: Bank, wiring: Wiring, board: Board, closed: frozenset[Place]) -> frozenset[Place]:
    """The places that read closed over one full scan, fitted or not."""
    driven, sensed = ("c", "r") if bank.strobe == "column" else ("r", "c")
    strobes = [line for line in bank.lines if line[0] == driven]
    inputs = [line for line in bank.lines if line[0] == sensed]
    found = set()
    for strobe in strobes:
        volts = _point(bank, wiring, board, closed, strobe)
        for line in inputs:
            low = volts.get(wiring.driver(line), 0.0) < board.threshold
            if line in wiring.stuck or (low and line not in wiring.mute):
                row, column = (line, strobe) if sensed == "r" else (strobe, line)
                found.add((int(row[1:]), int(column[1:])))
    return frozenset(found)


def _point(bank: Bank, wiring: Wiring, board: Board, closed: frozenset[Place], strobe: str) -> dict[str, float]:
    netlist = Netlist(bank.volts)
    wiring.lay(netlist)
    by_column = bank.strobe == "column"
    for line in bank.lines:
        if (line[0] == "c") == by_column:
            if (line == strobe and line not in wiring.mute) or line in wiring.stuck:
                netlist.resistor(wiring.driver(line), GROUND, _DRIVER)
        elif wiring.fed():
            netlist.resistor(SUPPLY, wiring.driver(line), board.pull_up)
    for place in sorted((closed | wiring.faulty) & bank.fitted):
        faults = wiring.at(place)
        if (place in closed and "device-dead" not in faults) or "device-stuck" in faults:
            row, column = f"r{place[0]}", f"c{place[1]}"
            ends = wiring.tap(row, place), wiring.tap(column, place)
            sense, low = ends if by_column else ends[::-1]
            inner = f"s{place[0]}_{place[1]}"
            netlist.resistor(sense, inner, _CLOSED)
            if "diode-open" in faults:
                continue
            if "diode-shorted" in faults or not bank.diodes:
                netlist.resistor(inner, low, _SHORTED)
            elif "diode-reversed" in faults:
                netlist.diode(low, inner, "DSMALL")
            else:
                netlist.diode(inner, low, "DSMALL")
    return netlist.solve()
