"""Word what can hurt during a bench check.

Common practice, no source; local codes and a licensed person come first.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from matrixcheck.layout.model import Kind


class Hazard(StrEnum):
    """What can hurt, as the key of a caution."""

    MAINS = "mains"
    COIL_SUPPLY = "coil supply"
    COIL_STAYS_ON = "coil stays on"
    FUSE = "fuse"
    POWER_ON = "power on"
    COILS_FIRE = "coils fire"
    COIL_VOLTS = "coil volts"
    NEXT_TO_COILS = "next to coils"
    HOT_LAMP = "hot lamp"
    HOT_FLASH_LAMP = "hot flash lamp"
    CHIPS = "chips"
    COIL_CHIPS = "coil chips"


_OFF = ("Switch off and pull the mains lead before you touch.", "Volts first, then ohms.")
_OFF_COILS = (
    "Switch off and pull the mains lead.",
    "Measure the solenoid supply: wait until it is under 1 volt.",
    "If it stays, bleed it through a resistor: 100 ohms to 1 kilohm, 5 watts. Then touch.",
)
_ON = (
    "Power is on: black clip first, one hand, rings off, tip bare for 2 mm only.",
    "Keep clear of mains parts and of the solenoid supply.",
)
_BOARD = "Capacitors and high-voltage displays hold their charge after switching off."
_PLAYFIELD = "A raised playfield is heavy: prop it with its own stay."
_LOCKED = (
    "A coil that stays on burns: the coil fuse stays out until the short is found.",
    "Renew a coil that is brown or whose sleeve is stiff.",
)
_DEFER = "Local codes and a licensed person come first."
_HOT = "Lamps stay hot for a while."
_FUSE_OUT = "Coils fire beside your hand: the coil fuse is out while you probe."
_VOLTS = ("Up to 80 V DC: hands off the plunger, and never bridge lug and frame.",)
_NEXT_TO_COILS = "Coil lugs sit next door: the coil fuse is out."
_FUSE = ("Find out why it blew first.", "Fit what the manual or the label says, not what was in the holder.")
_WRIST = "Wear an earthed wrist strap (1 megohm), with the power off."

_SENTENCES: Mapping[Hazard, tuple[str, ...]] = {
    Hazard.MAINS: _OFF,
    Hazard.COIL_SUPPLY: (*_OFF_COILS, _DEFER),
    Hazard.COIL_STAYS_ON: (*_OFF_COILS, *_LOCKED, _DEFER),
    Hazard.FUSE: (*_OFF_COILS, *_FUSE, _DEFER),
    Hazard.POWER_ON: (*_ON, _DEFER),
    Hazard.COILS_FIRE: (*_ON, _FUSE_OUT, _DEFER),
    Hazard.COIL_VOLTS: (*_ON, *_VOLTS, _DEFER),
    Hazard.NEXT_TO_COILS: (*_ON, _NEXT_TO_COILS, _DEFER),
    Hazard.HOT_LAMP: (*_OFF, *_ON, _HOT),
    Hazard.HOT_FLASH_LAMP: (*_OFF_COILS, *_ON, _HOT, _DEFER),
    Hazard.CHIPS: (*_OFF, *_ON, _WRIST, _DEFER),
    Hazard.COIL_CHIPS: (*_OFF_COILS, *_ON, _FUSE_OUT, _WRIST, _DEFER),
}
SPECIAL = frozenset({_HOT, _FUSE_OUT, *_VOLTS, _NEXT_TO_COILS, *_FUSE, _WRIST})
"""What is said at the check that it is for; all else holds for every check of the same state."""

LIVE = frozenset({*_ON, _DEFER, _PLAYFIELD})
"""What holds for every check with the power on; what else one needs is said at that check."""

FIRST = frozenset({Hazard.COIL_STAYS_ON, Hazard.FUSE})
"""Shorted drivers and fuses are checked before any step that fires a coil."""


def caution_of(hazard: str, *, power: bool, setup: str) -> tuple[str, ...]:
    """Return the sentences of a caution: what the hazard needs, and what lies in reach with the power off."""
    said = _SENTENCES[Hazard(hazard)]
    if setup == "playfield up":
        return (*said, _PLAYFIELD)
    return said if power else (*said, _BOARD)


def off(kind: Kind) -> Hazard:
    """Return the hazard of a check with the power off."""
    return Hazard.COIL_SUPPLY if kind is Kind.COIL else Hazard.MAINS


def held_on(kind: Kind) -> Hazard:
    """Return the hazard of a line that is held on: with coils on it, nothing is tried with the power on."""
    return Hazard.COIL_STAYS_ON if kind is Kind.COIL else Hazard.MAINS


def on(kind: Kind) -> Hazard:
    """Return the hazard of a check that needs the power on; coils fire meanwhile unless their fuse is out."""
    return Hazard.COILS_FIRE if kind is Kind.COIL else Hazard.POWER_ON


def at_a_bulb(kind: Kind) -> Hazard:
    """Return the hazard of taking a lamp out and looking at it lit."""
    return Hazard.HOT_FLASH_LAMP if kind is Kind.COIL else Hazard.HOT_LAMP
