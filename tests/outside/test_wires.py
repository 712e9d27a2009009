"""Wire colours against published tables.

Source: IEC 60757, *Code for designation of colours*. Status: text (a national edition of it was seen). The table below
is written out from it, not from the project. A second, independent check is the colour table of the package
`wireviz`, which carries the same two-letter codes.
"""

from __future__ import annotations

import pytest
from wireviz.wv_colors import COLOR_CODES, _color_full, _color_ger

from matrixcheck.layout.wire_words import WireReading, read_wires
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
    with pytest.raises(ValueError, match="is not a wire colour"):
        colour_words(wire)


@pytest.mark.parametrize(
    ("slip", "meant"),
    [("gn/bn", "GN/BN"), ("GN-BN", "GN/BN"), ("GNBN", "GN/BN"), ("Green Brown", "GN/BN"),
     ("grey", "GY"), ("gnye", "GNYE"),
     ("GR", None), ("GN/BN/RD", None), ("", None)],
)  # fmt: skip
def test_a_slip_of_the_pen_is_understood(slip: str, meant: str | None) -> None:
    assert nearest_wire(slip) == meant


PRINTED = {
    "Grn-Brn": "GN/BN", "green/brown": "GN/BN", "WHT-PNK": "WH/PK", "gn bn": "GN/BN", "vert/brun": "GN/BN",
    "OR-BK": "OG/BK", "jaune/or": "YE/GD", "gnbn": "GN/BN", "GRNBRN": "GN/BN", "grün-weiß": "GN/WH", "YELLOW": "YE",
    "gnye": "GNYE", "rosa": "PK", "Gris-Rose": "GY/PK",
}  # fmt: skip
"""Common practice, no source: how charts print colours."""


@pytest.mark.parametrize(("printed", "code"), PRINTED.items())
def test_what_is_sure_of_a_printed_colour_is_its_code(printed: str, code: str) -> None:
    assert read_wires([printed], {})[printed] == WireReading(code)


@pytest.mark.parametrize(
    ("printed", "word", "codes"),
    [
        (["GR-BK"], "gr", {"GN", "GY"}),
        (["BL-RD", "OR-WH"], "bl", {"BU", "BK"}),
        (["BL"], "bl", {"BU", "BK", "WH"}),
        (["mauve-red"], "mauve", set()),
    ],
)
def test_what_is_not_sure_is_asked_and_never_taken(printed: list[str], word: str, codes: set[str]) -> None:
    reading = read_wires(printed, {})[printed[0]]
    assert reading.wire is None
    assert {one: set(meant) for one, meant in reading.unsure} == {word: codes}


def test_the_other_colours_of_a_chart_say_in_which_language_it_is() -> None:
    assert read_wires(["GR-BL", "sw-ws"], {})["GR-BL"].wire == "GY/BU"
    assert read_wires(["gr/bl", "noir/rouge", "vert"], {})["gr/bl"].unsure == (("bl", ("BU", "WH")),)


def test_an_answer_settles_what_was_not_sure() -> None:
    assert read_wires(["GR-BK"], {"gr": "GN"})["GR-BK"].wire == "GN/BK"


def test_a_german_chart_is_read_as_wireviz_abbreviates() -> None:
    """Source: the German column of the table of `wireviz`, which follows DIN 47100."""
    german = {_color_ger[code]: code for code in COLOURS if code in _color_ger}
    assert len(german) == 14
    assert {word: reading.wire for word, reading in read_wires(german, {}).items()} == german


def test_an_english_chart_is_read_as_wireviz_names_colours() -> None:
    """Source: the English names and the two-letter codes of `wireviz`."""
    english = {_color_full[code]: code for code in COLOURS if code in _color_full}
    for printed in (english, {code: code for code in english.values()}):
        assert {word: reading.wire for word, reading in read_wires(printed, {}).items()} == printed


def test_joined_codes_are_read_as_wireviz_splits_them() -> None:
    """Source: the two-colour codes of the tables TEL and DIN of `wireviz`.

    Left out are those of colours that IEC 60757 lacks, and GNYE, which is one colour there.
    """
    listed = [code for name in ("DIN", "TEL") for code in COLOR_CODES[name] if len(code) == 4]
    joined = [code for code in listed if code != "GNYE" and {code[:2], code[2:]} <= COLOURS.keys()]
    assert len(joined) > 8
    assert {code: reading.wire for code, reading in read_wires(joined, {}).items()} == {
        code: f"{code[:2]}/{code[2:]}" for code in joined
    }
