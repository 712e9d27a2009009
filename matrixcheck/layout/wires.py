"""Wire colours in the letter codes of IEC 60757: a base colour, or base and tracer as `GN/BN`."""

from __future__ import annotations

import re

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
    """Return a wire's colours in words: `GN/BN` is "green-brown". Raises ValueError for a code that IEC 60757 lacks."""
    codes = wire.split("/")
    unknown = [code for code in codes if code not in COLOURS]
    if unknown or len(codes) > 2:
        known = ", ".join(COLOURS)
        raise ValueError(f"{wire!r:.42} is not a wire colour: give a base or base/tracer of {known}")
    return "-".join(COLOURS[code] for code in codes)


def nearest_wire(wire: str) -> str | None:
    """Return the colour code that a misspelt one probably means.

    For `gn/bn`, `GN-BN`, `GNBN` and `green/brown` it is `GN/BN`.
    """
    by_word = {word: code for code, word in COLOURS.items()}
    words = [by_word.get(word.casefold(), word.upper()) for word in re.split("[^A-Za-z]+", wire.strip())]
    if len(words) == 1 and len(words[0]) == 4 and words[0] not in COLOURS:
        words = [words[0][:2], words[0][2:]]
    return "/".join(words) if len(words) <= 2 and all(word in COLOURS for word in words) else None
