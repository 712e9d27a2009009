"""The words that charts are headed with, in English, German and French: fields, sides, kinds, and what says "unused".

All of it is common practice, without a source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.layout.model import Kind

FIELDS: dict[str, str] = {
    phrase.strip(): field
    for field, phrases in {
        "number": "no, nr, number, num, #, item, test, test no, test number, n, n°, nummer, numéro, numero, id",
        "name": "name, description, desc, function, designation, bezeichnung, désignation, nom, funktion, fonction, "
        "label",
        "column": "column, columns, col, cols, spalte, spalten, colonne, colonnes, matrix column, strobe, strobes",
        "row": "row, rows, zeile, zeilen, reihe, rangée, rangées, rangee, ligne, matrix row, return, returns, sense",
        "chip": "chip, ic, integrated circuit, input chip, latch, input ic, driver ic, driver chip, chip pin, ic pin, "
        "puce",
        "driver": "driver, transistor, drive transistor, driver transistor, trans, q, drive, treiber, drv, "
        "transistors, triac, fet, mosfet",
        "plug": "plug, plug pin, plug pins, pin, pins, connector, connection, conn, connector pin, stecker, fiche, "
        "jack, header, connecteur, broche",
        "wire": "wire, wire colour, wire color, colour, color, wires, ader, aderfarbe, farbe, kabelfarbe, "
        "fil, couleur, couleur du fil",
        "fuse": "fuse, sicherung, fusible",
        "relay": "relay, relais",
        "feed": "feed, power, supply, supply line, power line, voltage source, speisung, alimentation",
        "ohms": "ohms, ohm, ω, resistance, widerstand, résistance, r",
        "volts": "volts, voltage, spannung, tension",
        "side": "side, bank, relay side, seite, côté",
        "when": "when, relay position, position",
        "zone": "zone, location, place, area, where, ort, lieu, emplacement",
        "reach": "reach, access, reached by, zugang",
        "rest": "rest, at rest, normally, no/nc, nc/no, contact type, rest state, ruhe, repos",
        "type": "type, kind, device, device type",
        "string": "string, circuit, lighting string, lichtkette, stromkreis, guirlande",
        "lamps": "lamps, lights, bulbs, lampen, lampes",
        "fitted": "fitted, bulb type, bulb",
        "rating": "rating, value, nennwert, calibre",
        "ref": "ref, reference, designator, part",
    }.items()
    for phrase in phrases.split(",")
}
DEVICES = {
    "switch": Kind.SWITCH, "switches": Kind.SWITCH, "sw": Kind.SWITCH, "schalter": Kind.SWITCH, "contact": Kind.SWITCH,
    "input": Kind.SWITCH, "lamp": Kind.LAMP, "lampe": Kind.LAMP, "light": Kind.LAMP, "coil": Kind.COIL,
    "solenoid": Kind.COIL, "sol": Kind.COIL, "spule": Kind.COIL, "magnet": Kind.COIL, "bobine": Kind.COIL,
}  # fmt: skip
"""Headings that say what a list is of: they stand over the numbers, or over the names."""
_OWNERS = {
    "column": "column", "col": "column", "spalte": "column", "colonne": "column", "strobe": "column", "row": "row",
    "zeile": "row", "reihe": "row", "rangée": "row", "ligne": "row", "return": "row", "driver": "row", "drive": "row",
    "feed": "column", "supply": "column", "power": "column", "voltage": "column", "side": "column", "string": "column",
}  # fmt: skip
_FEEDS = frozenset({"feed", "supply", "power", "voltage"})
_LINE_FIELDS = frozenset({"chip", "driver", "plug", "wire", "fuse", "relay", "name"})
_OF_A_FUSE = frozenset({"name", "rating", "zone"})
_COUNTS = frozenset({"no", "nr", "number", "n°", "nummer", "numéro", "numero"})
"""Words that may follow what a heading counts, as in "Plug no."."""
_PLUG_LETTERS = frozenset({"j", "p", "x"})
"""Letters of plugs, as in "J pin"; alone they may mean anything."""
_KINDS = (
    (Kind.COIL, r"coils?|sol|solenoids?|spulen?|bobines?|magnete?"),
    (Kind.SWITCH, r"sw|switch(?:es)?|schalter|inputs?|contacts?|interrupteurs?|tasten"),
    (Kind.LAMP, r"lamps?|lamp\w*|lights?|lighting|beleuchtung|éclairage|bulbs?"),
)
_UNUSED = re.compile(
    r"[(\[]?\s*(?:|-+|[\u2013\u2014]+|\.+|not used|unused|not fitted|spare|n/?a|none|nil|empty|free|frei|"
    r"nicht belegt|unbenutzt|libre|inutilisée?|non utilisée?|vide)\s*[)\]]?",
    re.IGNORECASE,
)


CROSSING = "crossing"
"""The field of a heading over columns and rows in one, as "Col/Row": of the side that stands first."""


class Heading(NamedTuple):
    """What stands in a column of a list: a field, and what it is of where the heading says so: a line, a fuse."""

    field: str
    of: str = ""


def is_unused(text: str) -> bool:
    """Return whether a chart says with it that nothing is fitted."""
    return _UNUSED.fullmatch(text) is not None


def heading_of(text: str) -> Heading | None:
    """Return what a heading of a list says; None where it is none."""
    inner = re.search(r"\(([^)]*)\)", text)
    if inner and side_of(inner[1]):
        return Heading(side_of(inner[1]) or "")
    if first := _first_of_both(inner[1] if inner else text):
        return Heading(CROSSING, first)
    words = re.findall(r"[\w°#/]+", re.sub(r"\([^)]*\)", "", text).casefold())
    phrase = " ".join(words)
    if phrase in FIELDS:
        return Heading(FIELDS[phrase])
    if phrase in DEVICES:
        return Heading("device")
    return _heading_in_words([word for one in words for word in re.split(r"/|#$", one) if word])


def _first_of_both(text: str) -> str:
    """Return the side that stands first where a text names both, as "Col/Row" does; "" where it doesn't."""
    words = [word for word in re.split(r"[/,\s-]+", text) if word]
    sides = [side_of(word) or "" for word in words]
    return sides[0] if sorted(sides) == ["column", "row"] else ""


def _heading_in_words(words: Sequence[str]) -> Heading | None:
    if field := _field_of(words):
        return Heading(field)
    for place, word in enumerate(words):
        field = _field_of([*words[:place], *words[place + 1 :]])
        if word in _OWNERS and field in _LINE_FIELDS:
            return Heading(field, "feed" if word in _FEEDS else _OWNERS[word])
        if word == "fuse" and field in _OF_A_FUSE:
            return Heading(field, "fuse")
        if word in DEVICES and field:
            return Heading(field)
    return None


def _field_of(words: Sequence[str]) -> str | None:
    """Return the field that words say together, or each of them, as "plug" and "pin" do; None where they say none."""
    phrase = " ".join(words)
    if phrase in FIELDS:
        return FIELDS[phrase]
    said = [word for word in words if word not in _COUNTS]
    fields = {"plug" if word in _PLUG_LETTERS and len(said) > 1 else FIELDS.get(word) for word in said}
    only = fields.pop() if len(fields) == 1 else None
    return None if only == "ref" else only


_GENERIC = frozenset({
    "matrix", "matrices", "chart", "charts", "table", "tables", "list", "lists", "sheet", "page", "diagram", "direct",
    "general", "test", "and", "of", "the", "fuse", "fuses", "strings", "assignments", "numbers", "flash",
})  # fmt: skip


def is_generic(title: str) -> bool:
    """Return whether a title says what a chart is of, and nothing by which a machine is known."""
    words = re.findall(r"[^\W\d_]+", title.casefold())
    return all(word in _GENERIC or kind_in(word) for word in words)


def side_of(text: str) -> str | None:
    """Return "column" or "row" where a word of a heading names that side; None where it names none."""
    word = text.casefold().strip(" .:#")
    found = "column" if word == "drive" else FIELDS.get(word)
    return found if found in ("column", "row") else None


def names_drive(text: str) -> bool:
    """Return whether an entry begins with a word for the driven side, as in "Strobe 3"."""
    return text.casefold().startswith(("strobe", "drive"))


def names_sense(text: str) -> bool:
    """Return whether an entry begins with a word for the side that is sensed, as in "Return 3"."""
    return text.casefold().startswith(("return", "sense"))


def kind_in(text: str) -> Kind | None:
    """Return the kind of matrix that a title speaks of; None where it speaks of none."""
    found = (kind for kind, words in _KINDS if re.search(rf"(?<![^\W\d_])(?:{words})(?![^\W\d_])", text.casefold()))
    return next(found, None)
