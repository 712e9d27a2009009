"""What can hurt during a bench check. Common practice, no source; local codes and a licensed person come first."""

from __future__ import annotations

from matrixcheck.layout.model import Kind

_OFF = "Switch off and pull the mains lead before you touch."
_OFF_COILS = "Switch off, pull the mains lead, let the solenoid supply discharge and prove it with a meter."
_ON = "Power is on: one hand, insulated probe, clear of mains parts and of the solenoid supply."
_BOARD = "Capacitors and high-voltage displays hold their charge after switching off."
_PLAYFIELD = "A raised playfield is heavy: prop it with its own stay."
_HOT = "Lamps stay hot for a while."
_LOCKED = "A coil that stays on burns: switch off at once and don't power it again until it lets go."
_FUSE = "Find out why it blew first; replace with the same rating and type only."
_DEFER = "Local codes and a licensed person come first."


def before_measuring(kind: Kind, *, on_board: bool = False) -> str:
    """For a check with the power off, on a board or below the playfield."""
    first = _OFF_COILS if kind is Kind.COIL else _OFF
    return _said(first, _BOARD if on_board else _PLAYFIELD, _DEFER if kind is Kind.COIL else "")


def before_a_bulb() -> str:
    """For taking a lamp out."""
    return _said(_OFF, _HOT)


def before_a_fuse() -> str:
    """For taking a fuse out."""
    return _said(_OFF_COILS, _FUSE, _DEFER)


def with_power(kind: Kind) -> str:
    """For a check that needs the power on."""
    return _said(_ON, _LOCKED if kind is Kind.COIL else "", _DEFER)


def where_a_coil_stays_on(kind: Kind) -> str:
    """For a line that is held on: with coils on it, nothing is tried with the power on."""
    return _said(_OFF_COILS, _LOCKED, _DEFER) if kind is Kind.COIL else _said(_OFF, _BOARD)


def before_swapping_chips() -> str:
    """For taking chips out of their sockets."""
    return _said(_OFF, _BOARD, "Only where they are socketed, alike, and discharged by an earthed wrist strap.")


def _said(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)
