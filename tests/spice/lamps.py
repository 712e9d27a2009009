"""Lamps and coils: fed columns, sinking rows, a diode with each device; what glows or pulls is told by its current."""

from __future__ import annotations

from dataclasses import dataclass

from tests.spice.bank import Bank, Place
from tests.spice.netlist import GROUND, SUPPLY, Netlist
from tests.spice.wiring import Board, Wiring

_FUSE = 0.05  # ohms
_SINK = 0.3  # ohms, a switched-on row driver
_SHORTED = 0.05  # ohms
_DEVICE_SHORT = 0.5  # ohms
_BLOWS = 12.0  # amperes
_LED_DROP = 3.0  # volts
BRIGHT, FAINT = 2, 1


@dataclass(frozen=True)
class Glow:
    """What one command shows: `levels` of the devices that show, and the fuses that went meanwhile."""

    levels: dict[Place, int]
    blew: frozenset[str] = frozenset()


def command(bank: Bank, wiring: Wiring, board: Board, cell: Place | None) -> Glow:
    """One command (None: nothing commanded). A lamp bank is scanned column by column; a coil bank's relay selects; of
    lighting strings only the commanded one is fed."""
    if bank.is_strings:
        slots = [(f"c{cell[1]}",) if cell else ()]
    elif bank.kind == "lamp":
        slots = [(f"c{column}",) for column in range(1, bank.columns + 1)]
    else:
        position = wiring.relay or (bank.lines[f"c{cell[1]}"].when if cell else "rest")
        slots = [tuple(key for key, line in bank.lines.items() if line.is_column and line.when == position)]
    return _together(bank, wiring, board, cell, slots)


def _together(bank: Bank, wiring: Wiring, board: Board, cell: Place | None, slots: list[tuple[str, ...]]) -> Glow:
    """What shows over all the slots of one command."""
    levels: dict[Place, int] = {}
    blew: set[str] = set()
    for fed in slots:
        sinking = {f"r{cell[0]}"} if cell and (bank.kind == "coil" or fed == (f"c{cell[1]}",)) else set()
        asked = frozenset(fed), frozenset(sinking)
        if asked not in wiring.points:
            wiring.points[asked] = _point(bank, wiring, board, *asked)
        point = wiring.points[asked]
        blew |= point.blew
        for place, level in point.levels.items():
            levels[place] = max(level, levels.get(place, 0))
    return Glow(levels, frozenset(blew))


def _point(bank: Bank, wiring: Wiring, board: Board, fed: frozenset[str], sinking: frozenset[str]) -> Glow:
    netlist = Netlist(bank.volts)
    wiring.lay(netlist)
    rail = "f" if wiring.fed() else "nowhere"
    netlist.resistor(SUPPLY, "f", board.feed_ohms if bank.kind == "coil" else _FUSE)
    driver = _FUSE if board.strong or bank.kind == "coil" or bank.is_strings else 6.0
    for key, line in bank.lines.items():
        if line.is_column:
            on = (key in fed and key not in wiring.mute) or key in wiring.stuck
            if on and wiring.fed(line):
                netlist.resistor(rail, wiring.driver(key), driver)
        elif (key in sinking and key not in wiring.mute) or key in wiring.stuck:
            netlist.resistor(wiring.driver(key), GROUND, _SINK)
    meters = {place: _device(netlist, bank, wiring, board, place) for place in sorted(bank.fitted)}
    meters = {place: meter for place, meter in meters.items() if "device-dead" not in wiring.at(place)}
    volts = netlist.solve()
    levels = {}
    for place, (a, b, ohms, faint, bright, full) in meters.items():
        if a in volts and b in volts:
            share = abs(volts[a] - volts[b]) / ohms / full
            level = BRIGHT if share >= bright else FAINT if share >= faint and bank.lamp(place) else 0
            if level:
                levels[place] = level
    return Glow(levels, _blown(bank, wiring, board, volts, fed))


def _blown(bank: Bank, wiring: Wiring, board: Board, volts: dict[str, float], fed: frozenset[str]) -> frozenset[str]:
    supply = board.feed_ohms if bank.kind == "coil" else _FUSE
    if "f" not in volts or (volts[SUPPLY] - volts["f"]) / supply < _BLOWS:
        return frozenset()
    if bank.supply:
        return frozenset(bank.supply)
    loaded = [line for line in bank.lines.values() if line.supply and line.key in fed | wiring.stuck]
    worst = max(loaded, key=lambda line: volts["f"] - volts.get(wiring.driver(line.key), volts["f"]))
    return frozenset(worst.supply)


def _top(bank: Bank, wiring: Wiring, place: Place) -> str:
    """The node that feeds a device: its column, or the supply where that leads past the relay."""
    column = f"c{place[1]}"
    past = "keep-warm-glow" in wiring.at(place) and wiring.fed(bank.lines[column])
    return "f" if past else wiring.tap(column, place)


def _device(
    netlist: Netlist, bank: Bank, wiring: Wiring, board: Board, place: Place
) -> tuple[str, str, float, float, float, float]:
    """Puts one device in; gives the two ends of a resistance whose current tells what it does, that resistance, and
    the shares of the full current at which it is faint and bright (pulls, for a coil)."""
    faults = wiring.at(place)
    name = f"{place[0]}_{place[1]}"
    top, inner = _top(bank, wiring, place), f"m{name}"
    low = wiring.tap(f"r{place[0]}", place) if bank.shared else GROUND
    lamp = bank.lamp(place)
    if lamp == "led":
        amperes = board.led_amperes if bank.kind == "lamp" else board.flash_led_amperes
        ohms = (bank.volts - _LED_DROP) / amperes
        bright = board.led_bright if bank.kind == "lamp" else board.flash_led_bright
        meter = (top, f"l{name}", ohms, board.led_faint, bright, amperes)
    elif lamp:
        ohms = board.filament if bank.kind == "lamp" else bank.volts / board.flash_amperes
        faint = board.filament_faint if bank.kind == "lamp" else board.flash_faint
        meter = (top, inner, ohms, faint, board.filament_bright, bank.volts / ohms)
    else:
        ohms = board.coil_ohms.get(place, bank.volts / 1.5)
        meter = (top, inner, ohms, board.pull_in, board.pull_in, bank.volts / ohms)
    if "device-dead" not in faults:
        netlist.resistor(meter[0], meter[1], ohms)
        if lamp == "led":
            netlist.diode(meter[1], inner, "DLED")
            if not board.polar:
                netlist.diode(inner, meter[1], "DLED")
    if "keep_warm" in bank.notes.get(place, {}):
        netlist.resistor(inner, GROUND, float(bank.notes[place]["keep_warm"]["ohms"]))
    if "device-stuck" in faults:
        netlist.resistor(inner, GROUND, _DEVICE_SHORT)
    if "diode-open" in faults:
        return meter
    if "diode-shorted" in faults or not bank.diodes:
        netlist.resistor(inner, low, _SHORTED)
    elif "diode-reversed" in faults:
        netlist.diode(low, inner, "DPOWER")
    else:
        netlist.diode(inner, low, "DPOWER")
    return meter
