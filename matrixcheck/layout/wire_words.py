"""Wire colours as charts print them, in English, German and French, mapped to IEC 60757.

A chart is written in one language. So a colour is read in those languages in which every colour of the chart is a
colour: `OR` is orange beside `BK`, and gold beside `jaune`. What two such languages, or one of them, would read in two
ways is not sure, and is to be asked.

Sources: IEC 60757 for the codes; DIN 47100 for the German letters; the English and French ones are common practice,
without a source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from matrixcheck.layout.wires import COLOURS


def _table(text: str) -> dict[str, tuple[str, ...]]:
    """Read lines of `CODE word word`; a word that stands in two lines means either."""
    found: dict[str, tuple[str, ...]] = {}
    for line in text.strip().splitlines():
        code, *words = line.split()
        for word in words:
            found[word] = (*found.get(word, ()), code)
    return found


LANGUAGES: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "IEC 60757": {code.casefold(): (code,) for code in COLOURS},
    "English": _table("""
        BU bl
        BK black blk bk bla bl b
        BN brown brn br bn bro b
        RD red rd r
        OG orange orn org orng or ora og o
        YE yellow yel ye yl yw yell y
        GN green grn gn gre gr g
        BU blue blu bu b
        VT violet vio vi vt v purple pur pu
        GY grey gray gry gy gra gre gr g
        WH white wht wh whi wt w
        PK pink pnk pk pi
        GD gold gld gd
        TQ turquoise tur trq tq
        SR silver sil slv sr
    """),
    "German": _table("""
        BK schwarz sw schw
        BN braun br brn
        RD rot rt ro
        OG orange or
        YE gelb ge gb
        GN grün gruen gn grn
        BU blau bl
        VT violett lila vi
        GY grau gr
        WH weiß weiss ws
        PK rosa rs
        GD gold au
        TQ türkis tuerkis tk
        SR silber ag
    """),
    "French": _table("""
        BK noir nr n
        BN brun marron br ma m
        RD rouge rg r
        OG orange
        YE jaune ja j
        GN vert ve v
        BU bleu bl b
        VT violet vi v
        GY gris gr
        WH blanc bc bl b
        PK rose rs
        GD or doré
        TQ turquoise tq
        SR argent ag
    """),
}
_PARTS = re.compile(r"[^\W\d_]+")
_BETWEEN = re.compile(r"[\s/\-\u2013.,+|&]*")


class WireReading(NamedTuple):
    """How a printed colour is read. `wire` is the IEC 60757 code, None where it isn't sure.

    `unsure` has each word that may mean several colours, with their codes; with no codes for a word that is no colour.
    """

    wire: str | None
    unsure: tuple[tuple[str, tuple[str, ...]], ...] = ()


def colour_tokens(text: str) -> tuple[str, ...] | None:
    """Return the one or two words of a printed wire colour, in small letters; None where it can't be one."""
    if _BETWEEN.fullmatch(_PARTS.sub("", text)) is None:
        return None
    words = tuple(word.casefold() for word in _PARTS.findall(text))
    if len(words) == 1 and not _known(words[0]):
        words = _halves(words[0]) or words
    return words if 1 <= len(words) <= 2 else None


def is_colour(text: str) -> bool:
    """Return whether a text is a wire colour by itself, in any language; single letters are none."""
    words = colour_tokens(text)
    return words is not None and all(len(word) > 1 and _known(word) for word in words)


def read_wires(texts: Iterable[str], answers: Mapping[str, str]) -> dict[str, WireReading]:
    """Return how each printed colour of a chart is read.

    `answers` has what a person said of a word, in small letters, as a code of IEC 60757.
    """
    tokens = {text: colour_tokens(text) for text in texts}
    spoken = _languages_of({word for words in tokens.values() if words for word in words} - set(answers))
    return {text: _reading(text, words, spoken, answers) for text, words in tokens.items()}


def _reading(
    text: str, words: tuple[str, ...] | None, spoken: tuple[str, ...], answers: Mapping[str, str]
) -> WireReading:
    if words is None:
        return WireReading(None, ((text.casefold(), ()),))
    meant = [(answers[word],) if word in answers else _meanings(word, spoken) for word in words]
    unsure = tuple((word, codes) for word, codes in zip(words, meant, strict=True) if len(codes) != 1)
    return WireReading(None, unsure) if unsure else WireReading("/".join(codes[0] for codes in meant))


def _languages_of(words: set[str]) -> tuple[str, ...]:
    """Return the languages that know most of the words."""
    known = {name: sum(word in table for word in words) for name, table in LANGUAGES.items()}
    most = max(known.values())
    return tuple(name for name, count in known.items() if count == most)


def _meanings(word: str, spoken: tuple[str, ...]) -> tuple[str, ...]:
    for names in (spoken, tuple(LANGUAGES)):
        found = [code for name in names for code in LANGUAGES[name].get(word, ())]
        if found:
            return tuple(dict.fromkeys(found))
    return ()


def _known(word: str) -> bool:
    return any(word in table for table in LANGUAGES.values())


def _halves(word: str) -> tuple[str, str] | None:
    """Return the two colours that a word without a mark between them is made of: `gnbn`, `grnbrn`."""
    middle = len(word) // 2
    halves = word[:middle], word[middle:]
    return halves if len(word) in (4, 6) and all(_known(half) for half in halves) else None
