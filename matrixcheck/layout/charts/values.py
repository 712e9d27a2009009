"""What single entries of a chart say: designators, headings of lines, numbers with names."""

from __future__ import annotations

import re
from typing import NamedTuple

from matrixcheck.layout.charts.words import heading_of, is_unused, side_of
from matrixcheck.layout.designators import is_ref, part_class
from matrixcheck.layout.limits import figures
from matrixcheck.layout.numbering import Number, parse_number
from matrixcheck.layout.wire_words import is_colour

_ALSO = {
    "IC": "U",
    "TR": "Q",
    "T": "Q",
    "CN": "X",
    "CON": "X",
    "SK": "X",
    "PL": "P",
    "FU": "F",
    "RL": "K",
    "RY": "K",
    "CR": "D",
}
_LETTERS = "DS|[UQXJPFKRDSL]|" + "|".join(sorted(_ALSO, key=len, reverse=True))
_REF = re.compile(
    rf"(?<![\w-])(?P<letters>{_LETTERS})[\s\-]?(?P<count>\d{{1,4}})(?:\s*(?:pins?|[-./:])\s*(?P<pin>\d{{1,3}}[A-Z]?|[A-Z]\d{{0,2}}))?(?![\w-])",
    re.IGNORECASE,
)
_SIDE = re.compile(
    r"(?P<word>[^\W\d_]+)(?:\.?\s*#?\s*(?P<count>\d{1,3})|[.#\s]+(?P<letter>[A-Z]))(?!\w)", re.IGNORECASE
)
_LABEL = re.compile(r"\d{1,3}|[A-Za-z]{1,2}|[A-Za-z]\d{1,2}")
_NUMBERED = re.compile(r"[(\[]?#?(?P<number>[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*)[)\].:]*(?:\s+|$)(?P<rest>.*)", re.DOTALL)
_NUMBER_LAST = re.compile(r"(?P<rest>.*\S)\s*(?:\(#?|#)(?P<number>[A-Za-z0-9-]+)\)?", re.DOTALL)
_LABELLED = frozenset({"wire", "plug", "chip", "driver", "fuse", "relay"})
_ORDER = {"integrated circuit": 0, "transistor": 1, "connector": 3}


class LineHeading(NamedTuple):
    """What an entry says of a line. `side` is "" where it names none; `left` is what couldn't be read."""

    side: str = ""
    label: str = ""
    wire: str = ""
    refs: tuple[str, ...] = ()
    left: str = ""


class Numbered(NamedTuple):
    """The entry of a crossing: its number where it has one, and the name, "" where nothing is fitted."""

    number: Number | None
    name: str


def refs_in(text: str) -> tuple[tuple[str, ...], str]:
    """Return the designators in a text as IEEE 315 writes them, and the text without them."""
    found: list[str] = []

    def taken(match: re.Match[str]) -> str:
        ref = _spelt(match)
        if ref is None:
            return match[0]
        found.append(ref)
        return " "

    rest = _REF.sub(taken, text)
    return tuple(dict.fromkeys(found)), rest.strip(" ,;>&+\n")


def _spelt(match: re.Match[str]) -> str | None:
    letters = match["letters"].upper()
    pin = f"-{match['pin'].upper()}" if match["pin"] else ""
    ref = f"{_ALSO.get(letters, letters)}{match['count']}{pin}"
    return ref if is_ref(ref) else None


def is_other_spelling(text: str) -> bool:
    """Return whether a designator has letters that stand for others here, as IC does for U."""
    found = _REF.search(text)
    return found is not None and found["letters"].upper() in _ALSO


def is_label(text: str) -> bool:
    """Return whether a text is short enough to be nothing but the label of a line."""
    return _LABEL.fullmatch(text) is not None


def line_heading(text: str) -> LineHeading:
    """Return what the entry at the head of a row or column says, in whatever order."""
    refs, rest = refs_in(text)
    side = label = wire = ""
    left: list[str] = []
    for piece in re.split(r"[,;\n]|\s/\s|\s{2,}", rest):
        words = _without_word(piece.strip(" /"))
        found = _SIDE.match(words)
        if found and not label and side_of(found["word"]):
            side, label = side_of(found["word"]) or "", found["count"] or found["letter"]
            words = words[found.end() :].strip(" :-")
        head, _, tail = words.partition(" ")
        if not label and is_label(head) and not is_colour(head) and (not tail or is_colour(tail)):
            label, words = head, tail.strip()
        if words and not wire and is_colour(words):
            wire = words
        elif words and not is_unused(words):
            left.append(words)
    return LineHeading(side, label, wire, refs, ", ".join(left))


def _without_word(text: str) -> str:
    """Return the text without the word that says what it is, as in "Wire GRN-BRN"; "" where it is nothing else."""
    head, _, rest = text.partition(" ")
    heading = heading_of(head.rstrip(":"))
    labelled = heading is not None and heading.field in _LABELLED and (rest or len(head) > 1)
    return rest.strip(" :") if labelled else text


def numbered(text: str) -> Numbered:
    """Return an entry as a number and a name, where it begins or ends with a number."""
    *above, last = text.split("\n")
    if above and re.search(r"\d", last) and (number := parse_number(last)):
        return Numbered(number, named(" ".join(above)))
    text = " ".join(text.split())
    for found in (_NUMBERED.fullmatch(text), _NUMBER_LAST.fullmatch(text)):
        if found and re.search(r"\d", found["number"]):
            number = parse_number(found["number"])
            if number is not None and (number != 0 or found["rest"]):
                return Numbered(number or None, named(found["rest"]))
    return Numbered(None, named(text))


def named(text: str) -> str:
    """Return a name as it is printed, "" for what says that nothing is fitted."""
    text = " ".join(text.split())
    return "" if is_unused(text) else text


def plain_number(text: str) -> float | None:
    """Return a quantity that a chart prints, with or without its unit, a decimal comma too; None where it is none."""
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(?:[ωΩ\u2126]|ohms?|v|volts?|v ?[ad]c)?", text.casefold().strip())
    return float(found[1].replace(",", ".")) if found else None


def shown_number(value: float) -> str:
    """Return a quantity as TOML and people write it."""
    return figures(value).replace(",", "")


def in_path_order(refs: list[str]) -> list[str]:
    """Return designators from the logic outwards: chip, transistor, others, plug."""
    return sorted(dict.fromkeys(refs), key=path_rank)


def path_rank(ref: str) -> int:
    """Return how far from the logic a part usually sits: 0 a chip, 1 a transistor, 3 a plug, 2 anything else."""
    return _ORDER.get(part_class(ref), 2)
