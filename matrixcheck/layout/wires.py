"""Wire colours in the letter codes of IEC 60757: a base colour, or base and tracer as `GN/BN`."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator

COLOURS = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "GD": "gold",
    "TQ": "turquoise",
    "SR": "silver",
    "GNYE": "green-and-yellow",
}


def colour_words(wire: str) -> str:
    """A wire's colours in words: `GN/BN` is "green-brown". Raises ValueError for a code that IEC 60757 lacks."""
    codes = wire.split("/")
    unknown = [code for code in codes if code not in COLOURS]
    if unknown or len(codes) > 2:
        known = ", ".join(COLOURS)
        raise ValueError(f"'{wire}' is no wire colour: give a base or base/tracer of {known}")
    return "-".join(COLOURS[code] for code in codes)


def _checked(wire: str) -> str:
    colour_words(wire)
    return wire


Wire = Annotated[str, AfterValidator(_checked)]
