"""Events put into the terms of another layout of the same machine: places by the names that they have there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from msgspec.structs import replace

from matrixcheck.layout.model import Layout
from matrixcheck.layout.numbering import parse_number
from matrixcheck.layout.places import CellKey, parse_cell, parse_line
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.layout.wording import place_words
from matrixcheck.record.events import Accepted, Deferred, Event, Found, PhotoTaken, Read, Repaired, RoundStarted

_STRANGE = re.compile("[^A-Za-z0-9-]+")


class Terms(NamedTuple):
    """The way from one layout to another: what each place of the first is called in the second, where it has it."""

    old: Layout
    new: Layout
    places: Mapping[str, str]

    def crossing(self, key: CellKey) -> CellKey | None:
        """Return the same crossing in the new layout, fitted or not; None where it has none."""
        return parse_cell(self.places.get(str(key), ""), "")

    def cell(self, key: CellKey) -> CellKey | None:
        """Return the same cell in the new layout; None where nothing is fitted there any more."""
        found = self.crossing(key)
        return found if found is not None and found in self.new.matrix(found.matrix).by_key else None

    def crossings(self, keys: Iterable[CellKey]) -> tuple[CellKey, ...]:
        """Return those of the crossings that the new layout has."""
        return tuple(found for key in keys if (found := self.crossing(key)) is not None)

    def place(self, place: str) -> str | None:
        """Return the same place in the new layout: a line, a fitted cell, or a part that it knows; None for none."""
        key = parse_cell(place, "")
        if key is not None:
            cell = self.cell(key)
            return None if cell is None else str(cell)
        if parse_line(place, "") is not None:
            return self.places.get(place)
        return place if place in self.new.lines_through or place in self.new.part_by_ref else None


def in_terms(event: Event, terms: Terms) -> Event | None:
    """Return the event in the terms of the new layout; None where it is of a place that this hasn't."""
    now: Event | None = event
    match event:
        case Read(reading=reading):
            told = _reading(reading, terms)
            now = None if told is None else replace(event, reading=told)
        case Deferred(cell=cell) | Accepted(cell=cell):
            key = terms.cell(cell)
            # Only a lamp's glow may be normal: what is a coil in the new layout is none.
            lost = key is None or (isinstance(event, Accepted) and not terms.new.cell(key).lights)
            now = None if lost else replace(event, cell=key)
        case Found(finding=finding):
            seen = _finding(finding, terms)
            now = None if seen is None else replace(event, finding=seen)
        case Repaired(outside=False, place=place):
            there = terms.place(place)
            # What was done stays in the record, though it makes no cell due any more.
            outside = replace(event, place=place_words(terms.old, place), outside=True)
            now = outside if there is None else replace(event, place=there)
        case PhotoTaken():
            now = _photo(event, terms)
        case RoundStarted():
            now = _round(event, terms)
    return now


def _photo(event: PhotoTaken, terms: Terms) -> PhotoTaken | None:
    place, check = terms.place(event.place) if event.place else "", _code(event.check, terms)
    return None if place is None or check is None else replace(event, place=place, check=check)


def _reading(reading: Reading, terms: Terms) -> Reading | None:
    matrix = terms.places.get(reading.matrix)
    cell = None if reading.cell is None else terms.cell(reading.cell)
    if matrix is None or (reading.cell is not None and cell is None):
        return None
    return replace(
        reading,
        matrix=matrix,
        cell=cell,
        held=terms.crossings(reading.held),
        answered=None if reading.answered is None else terms.crossings(reading.answered),
        faint=terms.crossings(reading.faint),
    )


def _finding(finding: Finding, terms: Terms) -> Finding | None:
    place = terms.place(finding.place)
    code = _code(finding.code, terms)
    faults = [_fault(key, terms) for key in finding.faults]
    known = [key for key in faults if key is not None]
    if place is None or code is None or (faults and not known):
        return None
    return replace(finding, place=place, code=code, faults=tuple(known))


def _fault(key: str, terms: Terms) -> str | None:
    """Return the key of a fault, `break:switches.c3:2`, with its places as they are called now; None without them."""
    name, *words = key.split(":")
    told = [_word(word, terms) for word in words]
    return None if None in told else ":".join([name, *filter(None, told)])


def _word(word: str, terms: Terms) -> str | None:
    is_place = word in terms.old.matrix_ids or parse_line(word, "") or parse_cell(word, "")
    return terms.places.get(word) if is_place else word


def _code(code: str, terms: Terms) -> str | None:
    """Return the code of a check, `diode.switches.24`, with lines and cells as they are called now; None without."""
    ids = {_STRANGE.sub("-", each): each for each in terms.old.matrix_ids}
    matrix = ""
    words: list[str | None] = []
    for word in code.split("."):
        if word in ids:
            matrix = ids[word]
            now = terms.places.get(matrix)
            words.append(None if now is None else _STRANGE.sub("-", now))
        elif matrix and parse_line(word, matrix):
            words.append(terms.places.get(f"{matrix}.{word}", "").rpartition(".")[2] or None)
        elif matrix and (cell := terms.old.matrix(matrix).by_number.get(parse_number(word) or "")):
            key = terms.cell(cell.key)
            words.append(None if key is None else str(terms.new.cell(key).number))
        else:
            words.append(word)
    return None if None in words else ".".join(filter(None, words))


def _round(event: RoundStarted, terms: Terms) -> RoundStarted | None:
    """Return the start of a round that can go on: a walk visits the same cells in their order, a hold holds the same.

    For any other it is as if it had not begun.
    """
    matrix = terms.places.get(event.matrix)
    if matrix is None:
        return None
    held, cells = terms.crossings(event.held), tuple(filter(None, map(terms.cell, event.cells)))
    whole = len(held) == len(event.held) and all(key in terms.new.matrix(matrix).by_key for key in held)
    if event.round == "walk":
        before = [cell.key for cell in terms.old.matrix(event.matrix).in_walk_order]
        after = [cell.key for cell in terms.new.matrix(matrix).in_walk_order]
        whole = [terms.cell(key) for key in before if not event.cells or key in event.cells] == [
            key for key in after if not cells or key in cells
        ]
    return replace(event, matrix=matrix, held=held, cells=cells) if whole else None
