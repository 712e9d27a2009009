"""Wire colours against published tables.

Source: IEC 60757, *Code for designation of colours*. Status: text (a national edition of it was seen). The table below
is written out from it, not from the project. A second, independent check is the colour table of the package
`wireviz`, which carries the same two-letter codes.
"""

from __future__ import annotations

import pytest
from wireviz.wv_colors import _color_full

from matrixcheck.layout.wires import COLOURS, colour_words, nearest_wire

IEC_60757 = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green", "BU": "blue",
    "VT": "violet", "GY": "grey", "WH": "white", "PK": "pink", "GD": "gold", "TQ": "turquoise", "SR": "silver",
    "GNYE": "green-and-yellow",
}  # fmt: skip


def test_the_codes_are_those_of_iec_60757() -> None:
    assert COLOURS == IEC_60757


def test_each_single_colour_means_the_same_to_wireviz() -> None:
    singles = {code: word for code, word in COLOURS.items() if len(code) == 2}
    assert len(singles) == 14
    assert {code: _color_full[code] for code in singles} == singles


@pytest.mark.parametrize(
    ("wire", "words"),
    [("GN/BN", "green-brown"), ("WH", "white"), ("GNYE", "green-and-yellow"), ("GY/PK", "grey-pink")],
)
def test_a_wire_is_said_in_words_base_first(wire: str, words: str) -> None:
    assert colour_words(wire) == words


@pytest.mark.parametrize("wire", ["", "GR", "gn", "GN-BN", "GN/", "/BN", "GN/BN/RD", "GNBN", "green", "GN / BN", "BL"])
def test_what_the_standard_lacks_is_no_colour(wire: str) -> None:
    with pytest.raises(ValueError, match="is no wire colour"):
        colour_words(wire)


@pytest.mark.parametrize(
    ("slip", "meant"),
    [("gn/bn", "GN/BN"), ("GN-BN", "GN/BN"), ("GNBN", "GN/BN"), ("Green Brown", "GN/BN"),
     ("grey", "GY"), ("gnye", "GNYE"),
     ("GR", None), ("GN/BN/RD", None), ("", None)],
)  # fmt: skip
def test_a_slip_of_the_pen_is_understood(slip: str, meant: str | None) -> None:
    assert nearest_wire(slip) == meant
