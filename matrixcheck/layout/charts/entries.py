"""What the lines of a list say, noted for the device or the row or column that it belongs to."""

from __future__ import annotations

import re

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.drafts import (
    CellDraft,
    Entry,
    Facts,
    Given,
    LineDraft,
    Listing,
    MatrixDraft,
    Note,
    Understood,
    add,
)
from matrixcheck.layout.charts.headings import PARTS, note_parts
from matrixcheck.layout.charts.values import named, numbered, plain_number, refs_in, shown_number
from matrixcheck.layout.charts.words import is_unused, kind_in
from matrixcheck.layout.model import Kind
from matrixcheck.layout.problems import shown

LINE_FIELDS = ("chip", "driver", "relay", "plug", "wire", "fuse", "feed")
_CLOSED = re.compile(r"n\.?\s?c\.?|closed|zu|fermé|öffner|normally closed", re.IGNORECASE)
_OPEN = re.compile(r"n\.?\s?o\.?|open|offen|ouvert|schließer|normally open", re.IGNORECASE)
_NC_IN_NAME = re.compile(r"\(\s*(?:n\.?\s?c\.?|normally closed)\s*\)", re.IGNORECASE)


def owned(listing: Listing, side: str) -> dict[str, str]:
    """Return the fields whose headings name the lines of a side, each with the word that it was headed by."""
    return {name: of for name, of in listing.fields if of == side or (of == "feed" and side == "column")}


def note_line(line: LineDraft, entry: Entry, fields: dict[str, str], into: Understood) -> None:
    """Note the fields of an entry that are its line's; `fields` has for each whose heading it stands under."""
    for name, of in fields.items():
        given = entry.given(name, of)
        if given is None:
            continue
        if name in ("wire", "name"):
            add(line.facts, name, given.value, given.spot)
        elif name == "feed":
            _note_feed(line, given)
        elif name in PARTS or name in ("fuse", "path"):
            note_parts(given, name, line, into)
            if name == "fuse":
                _note_fuse(given, entry, into)


def _note_fuse(fuse: Given, entry: Entry, into: Understood) -> None:
    """Note what columns of its own say of the fuse of an entry: name, rating, place."""
    refs = refs_in(fuse.value)[0]
    for field, key in (("name", "name"), ("rating", "rating"), ("zone", "place")):
        given = entry.given(field, "fuse")
        if given and len(refs) == 1 and not is_unused(given.value):
            add(into.parts.setdefault(refs[0], {}), key, given.value, given.spot)
        elif given and refs and not is_unused(given.value):
            into.left_over.append(Note(given.spot, f"{shown(given.value)}: of which of {', '.join(refs)}?"))


def _note_feed(line: LineDraft, given: Given) -> None:
    """Note what feeds a line: fuses and relays that it needs, the plug that it comes by, else its wire."""
    refs, rest = refs_in(given.value)
    for ref in refs:
        if ref[0] in "FK":
            add(line.facts, "supply", ref, given.spot)
        elif all(one.value != ref for one in line.refs):
            line.refs.append(Given(ref, given.spot))
    if rest and not is_unused(rest):
        add(line.facts, "wire" if not refs else "name", rest, given.spot)


def put(draft: MatrixDraft, place: tuple[int, int], entry: Entry, listing: Listing, into: Understood) -> None:
    """Put a device of a list at its place.

    Raises InputError where another is there, or its number stands twice.
    """
    number, rest = numbered(entry.text("number"))
    name = named(entry.text("name"))
    if number is not None and rest and rest != name:
        into.left_over.append(Note(entry.spot, f"{shown(rest)}, beside the number {number}"))
    there = draft.cells.get(place)
    if there is not None:
        other = there.facts["name"][0].value if there.facts.get("name") else "nothing"
        raise InputError(
            f"{entry.spot}: {shown(name or 'nothing')} is at column {draft.columns[place[1]].label}, row "
            f"{draft.rows[place[0]].label}, where {shown(other)} of row {there.spot.row} is already",
            "give each device its own place",
        )
    if number is not None and draft.listed.setdefault(number, place) != place:
        known = draft.cells[draft.listed[number]]
        raise InputError(f"{entry.spot}: {number} stands here and in row {known.spot.row}", "give each its own number")
    if entry.text("number") and number is None:
        into.left_over.append(Note(entry.spot, f"{shown(entry.text('number'))} is not a number of a device"))
    cell = draft.cells[place] = CellDraft(number=number, spot=entry.spot)
    if name:
        add(cell.facts, "name", name, entry.facts["name", ""].spot)
        note_cell(cell.facts, entry, draft.kind, into)
    elif number is not None and ("name", "") in listing.fields and not entry.text("name"):
        into.guessed.append(Note(entry.spot, f"{number} has no name: read as not fitted"))
    elif number is not None and not entry.text("name"):
        cell.stand_in = f"{draft.kind or 'device'} {number}"


def note_cell(facts: Facts, entry: Entry, kind: Kind | None, into: Understood) -> None:
    """Note what an entry says of the device itself: where it is, how it rests, its resistance."""
    for field in ("zone", "reach"):
        if entry.text(field):
            add(facts, field, entry.text(field), entry.facts[field, ""].spot)
    _note_rest(facts, entry, kind, into)
    _note_device(facts, entry, kind, into)
    ohms = entry.given("ohms")
    if ohms:
        value = plain_number(ohms.value)
        if value is None:
            into.left_over.append(Note(ohms.spot, f"{shown(ohms.value)} is no resistance in ohms"))
        else:
            add(facts, "ohms", shown_number(value), ohms.spot)
    fitted = entry.given("fitted")
    if fitted and (word := fitted.value.casefold()) in ("led", "filament"):
        add(facts, "fitted", word, fitted.spot)
    elif fitted:
        into.left_over.append(Note(fitted.spot, f"{shown(fitted.value)} is neither led nor filament"))


def _note_rest(facts: Facts, entry: Entry, kind: Kind | None, into: Understood) -> None:
    rests = entry.given("rest")
    if kind == Kind.SWITCH and rests and _CLOSED.fullmatch(rests.value):
        add(facts, "rest", "closed", rests.spot)
    elif rests and not (kind == Kind.SWITCH and _OPEN.fullmatch(rests.value)):
        into.left_over.append(Note(rests.spot, f"{shown(rests.value)} at rest: neither open nor closed"))
    elif kind == Kind.SWITCH and _NC_IN_NAME.search(entry.text("name")):
        add(facts, "rest", "closed", entry.spot)


def _note_device(facts: Facts, entry: Entry, kind: Kind | None, into: Understood) -> None:
    device = entry.given("type")
    if device and kind == Kind.COIL and re.search("flash|lamp|lampe|bulb", device.value.casefold()):
        add(facts, "device", "flash lamp" if "flash" in device.value.casefold() else "lamp", device.spot)
    elif device and kind_in(device.value) not in (None, kind):
        into.left_over.append(Note(device.spot, f"{shown(device.value)} is no device of a {kind} matrix"))
    elif device and kind_in(device.value) is None:
        into.left_over.append(
            Note(device.spot, f"{shown(device.value)}: a kind of device that a layout has no word for")
        )
