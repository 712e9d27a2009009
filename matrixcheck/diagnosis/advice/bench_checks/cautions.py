"""Word what can hurt during a bench check.

Common practice, no source; local codes and a licensed person come first.
"""

from __future__ import annotations

from matrixcheck.layout.model import Kind

_OFF = "Switch off and pull the mains lead before you touch. Volts first, then ohms."
_OFF_COILS = (
    "Switch off and pull the mains lead. Measure the solenoid supply: wait until it is under 1 volt. If it stays, "
    "bleed it through a resistor (100 ohms to 1 kilohm, 5 watts). Then touch."
)
_ON = "Power is on: black clip first, then one hand, rings off; clear of mains parts and of the solenoid supply."
_BOARD = "Capacitors and high-voltage displays hold their charge after switching off."
_PLAYFIELD = "A raised playfield is heavy: prop it with its own stay."
_HOT = "Lamps stay hot for a while."
_LOCKED = (
    "A coil that stays on burns: the coil fuse stays out until the shorted driver or grounded wire is found. "
    "Renew a coil that is brown or whose sleeve is stiff."
)
_FUSE_OUT = "Coils fire beside your hand: the coil fuse is out while you probe."
_FUSE = "Find out why it blew first. Fit what the manual or the label says, not what was in the holder."
_DEFER = "Local codes and a licensed person come first."


def before_measuring(kind: Kind, *, on_board: bool = False) -> str:
    """Caution for a check with the power off, on a board or below the playfield."""
    first = _OFF_COILS if kind is Kind.COIL else _OFF
    return _said(first, _BOARD if on_board else _PLAYFIELD, _DEFER if kind is Kind.COIL else "")


def before_a_bulb(kind: Kind) -> str:
    """Caution for taking a lamp out and looking at it lit."""
    return _said(_OFF_COILS if kind is Kind.COIL else _OFF, _HOT, _ON)


def before_a_fuse() -> str:
    """Caution for taking a fuse out."""
    return _said(_OFF_COILS, _FUSE, _DEFER)


def with_power(kind: Kind) -> str:
    """Caution for a check that needs the power on."""
    return _said(_ON, _FUSE_OUT if kind is Kind.COIL else "", _DEFER)


def at_a_relay() -> str:
    """Caution for listening to a relay and measuring at its coil, with the power on."""
    return _said(_ON, _DEFER)


def where_a_coil_stays_on(kind: Kind) -> str:
    """Caution for a line that is held on: with coils on it, nothing is tried with the power on."""
    return _said(_OFF_COILS, _LOCKED, _DEFER) if kind is Kind.COIL else _said(_OFF, _BOARD)


def before_swapping_chips(kind: Kind) -> str:
    """Caution for taking chips out of their sockets, and a test after it."""
    wrist = "Only chips that are socketed and alike; wear an earthed wrist strap."
    return _said(_OFF_COILS if kind is Kind.COIL else _OFF, _BOARD, wrist, with_power(kind))


def _said(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)
