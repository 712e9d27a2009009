"""Lists turned into matrices: each device to its place, each wire and part to the line that it belongs to."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.drafts import (
    Entry,
    Given,
    LineDraft,
    Listing,
    MatrixDraft,
    Note,
    Understood,
    add,
)
from matrixcheck.layout.charts.entries import LINE_FIELDS, note_cell, note_line, owned, put
from matrixcheck.layout.charts.tables import coil_table, direct_inputs, lighting_strings
from matrixcheck.layout.charts.values import line_heading, named, numbered, plain_number, refs_in, shown_number
from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.model import Kind
from matrixcheck.layout.numbering import natural_order, parse_number
from matrixcheck.layout.problems import shown
from matrixcheck.layout.wire_words import is_colour


def place_list(listing: Listing, known: Sequence[MatrixDraft], into: Understood) -> MatrixDraft | None:
    """Return the matrix that a list gives; None where it only adds to matrices that are known.

    What nobody asked for is noted as left over.
    """
    draft = _placed(listing, known, into)
    if draft is not None:
        _note_volts(draft, listing)
    for entry in listing.entries:
        for name, given in entry.unused():
            into.left_over.append(Note(given.spot, f"{shown(given.value)} under {name}: a layout has no place for it"))
    return draft


def _note_volts(draft: MatrixDraft, listing: Listing) -> None:
    """Note the volts of a list where they are the same for all."""
    volts = {entry.facts["volts", ""] for entry in listing.entries if ("volts", "") in entry.facts}
    values = {plain_number(given.value) for given in volts}
    value = next(iter(values), None)
    if len(values) == 1 and value is not None:
        draft.facts["volts"] = [Given(shown_number(value), next(iter(volts)).spot)]
        for entry in listing.entries:
            entry.given("volts")


def _placed(listing: Listing, known: Sequence[MatrixDraft], into: Understood) -> MatrixDraft | None:
    fields = {name for name, _ in listing.fields}
    if {"column", "row"} <= fields:
        return _matrix_list(listing, into)
    owner = _already_known(listing, known)
    if owner is not None:
        _add_to(owner, listing, into)
        return None
    if "string" in fields or (listing.kind == Kind.LAMP and "fuse" in fields and "driver" not in fields):
        return lighting_strings(listing, into)
    if listing.kind == Kind.COIL or {"side", "feed"} & fields:
        return coil_table(listing, into)
    return direct_inputs(listing, into)


def adds_to_known(listing: Listing, known: Sequence[MatrixDraft]) -> bool:
    """Return whether a list without a kind says of itself where it belongs: by strings, sides, or numbers of a grid.

    Numbers that matrices of several kinds have leave it open.
    """
    fields = {name for name, _ in listing.fields}
    kinds = {draft.kind for draft in known if _speaks_of(listing, draft)}
    return bool({"string", "side", "feed"} & fields) or len(kinds) == 1


def is_part_list(listing: Listing) -> bool:
    """Return whether a list is of parts, fuses say, and not of devices."""
    fields = {name for name, _ in listing.fields}
    return not {"number", "column", "row", "lamps"} & fields and (
        "ref" in fields or ("rating" in fields and bool(fields & {"fuse", "relay", "plug"}))
    )


def _matrix_list(listing: Listing, into: Understood) -> MatrixDraft:
    draft = MatrixDraft(listing.kind, "list", listing.chart, listing.spot)
    entries = [entry for entry in listing.entries if _is_placed(entry, into)]
    if not entries:
        raise InputError(f"{listing.spot}: no line of this list has a column and a row", "give each device both")
    for entry in entries:
        _part_sides(entry)
    labels = {side: _labels([entry.text(side) for entry in entries], listing, side) for side in ("column", "row")}
    draft.columns = [LineDraft(label) for label in labels["column"]]
    draft.rows = [LineDraft(label) for label in labels["row"]]
    for side in ("column", "row"):
        _name_by_wires(draft.lines(side), entries, side)
    owners = {name: _owner(name, entries, into) for name in LINE_FIELDS if (name, "") in listing.fields}
    for entry in entries:
        row, column = labels["row"].index(entry.text("row")), labels["column"].index(entry.text("column"))
        put(draft, (row, column), entry, listing, into)
        for side, line in (("column", draft.columns[column]), ("row", draft.rows[row])):
            own = {name: "" for name, owner in owners.items() if owner == side}
            wire = {"wire": side} if ("wire", side) in entry.facts else {}
            note_line(line, entry, {**own, **owned(listing, side), "path": side, **wire}, into)
    return draft


def _part_sides(entry: Entry) -> None:
    """Part what stands under a line's heading into its label, its wire and its parts.

    `C1 Q1` is column 1 by way of Q1, `1 (YEL-BRN)` column 1 with a yellow and brown wire.
    """
    for side in ("column", "row"):
        given = entry.facts[side, ""]
        said = line_heading(re.sub(r"[()]", " ", given.value))
        if said.label and said.wire and not said.left:
            entry.facts.setdefault(("wire", side), Given(said.wire, given.spot))
            given = Given(" ".join([said.label, *said.refs]), given.spot)
            entry.facts[side, ""] = given
        short = re.match(rf"(?:{side}|{side[0]})[ .]?(\d{{1,3}})(?!\w)", given.value, re.IGNORECASE)
        refs, label = refs_in(given.value[short.end() :] if short else given.value)
        label = short[1] if short else label or given.value
        if refs and label != given.value:
            entry.facts["path", side] = Given(" ".join(refs), given.spot)
        entry.facts[side, ""] = Given(label, given.spot)


def _name_by_wires(lines: Sequence[LineDraft], entries: Sequence[Entry], side: str) -> None:
    """Take labels that are all wire colours for these: such a list says of each device which two wires it is on."""
    if not all(is_colour(line.label) for line in lines):
        return
    for line in lines:
        spot = next(entry.facts[side, ""].spot for entry in entries if entry.text(side) == line.label)
        add(line.facts, "wire", line.label, spot)
        line.label = ""


def _is_placed(entry: Entry, into: Understood) -> bool:
    placed = bool(entry.text("column") and entry.text("row"))
    if not placed:
        words = ", ".join(given.value for given in entry.facts.values())
        into.left_over.append(Note(entry.spot, f"{shown(words)} has no column or no row"))
        entry.used |= entry.facts.keys()
    return placed


def _labels(texts: Sequence[str], listing: Listing, side: str) -> list[str]:
    """Return the labels of the lines of a side in their order; counts without a gap where they are counts."""
    found = list(dict.fromkeys(texts))
    if not all(map(is_colour, found)):
        found.sort(key=lambda text: natural_order(parse_number(text) or text.upper()))
    if found and all(text.isdecimal() for text in found):
        least, most = min(int(found[0]), 1), int(found[-1])
        found = [str(count) for count in range(least, most + 1)] if most < LARGEST_SIDE * 2 else found
    if len(found) > LARGEST_SIDE:
        raise InputError(f"{listing.spot}: {len(found)} {side}s", f"a matrix has at most {LARGEST_SIDE}")
    return found


def _owner(name: str, entries: Sequence[Entry], into: Understood) -> str:
    """Return the side whose lines a field belongs to: it changes with them and is one for each. "" for neither."""
    held = [entry for entry in entries if entry.text(name)]
    fits = [side for side in ("column", "row") if _is_one_for_each(name, side, held)]
    if not fits:
        for entry in held:
            given = entry.facts[name, ""]
            into.left_over.append(
                Note(given.spot, f"{shown(given.value)}, a {name} that is neither its column's nor its row's")
            )
        return ""
    if len(fits) == 2 and held:
        into.guessed.append(Note(held[0].facts[name, ""].spot, f"the {name} is read as the column's, not the row's"))
    return fits[0]


def _is_one_for_each(name: str, side: str, entries: Sequence[Entry]) -> bool:
    values: dict[str, str] = {}
    return all(values.setdefault(entry.text(side), entry.text(name)) == entry.text(name) for entry in entries)


def _already_known(listing: Listing, known: Sequence[MatrixDraft]) -> MatrixDraft | None:
    """Return the first matrix that the list speaks of."""
    return next((draft for draft in known if _speaks_of(listing, draft)), None)


def _speaks_of(listing: Listing, draft: MatrixDraft) -> bool:
    """Return whether a matrix of the list's kind has most of its numbers."""
    numbers = [numbered(entry.text("number")).number for entry in listing.entries if entry.text("number")]
    shared = sum(number in draft.by_number for number in numbers)
    return listing.kind in (None, draft.kind) and shared * 2 > len(numbers)


def _add_to(draft: MatrixDraft, listing: Listing, into: Understood) -> None:
    """Add what a list says of devices that a chart before it has placed."""
    known = draft.by_number
    placed = [
        (entry, place)
        for entry in listing.entries
        if (place := known.get(numbered(entry.text("number")).number or 0)) is not None
    ]
    at = {id(entry): place for entry, place in placed}
    for entry in listing.entries:
        if id(entry) not in at:
            words = ", ".join(given.value for given in entry.facts.values())
            into.left_over.append(Note(entry.spot, f"{shown(words)}: no chart says where it sits"))
    sided = [Entry(entry.spot, {**entry.facts, **_sides(entry, at[id(entry)])}, entry.used) for entry, _ in placed]
    owners = {name: _owner(name, sided, into) for name in LINE_FIELDS if (name, "") in listing.fields}
    for entry, (row, column) in placed:
        cell = draft.cells[row, column]
        if name := named(entry.text("name")):
            add(cell.facts, "name", name, entry.facts["name", ""].spot)
        note_cell(cell.facts, entry, draft.kind, into)
        for side, line in (("column", draft.columns[column]), ("row", draft.rows[row])):
            own = {name: "" for name, owner in owners.items() if owner == side}
            note_line(line, entry, {**own, **owned(listing, side)}, into)


def _sides(entry: Entry, place: tuple[int, int]) -> dict[tuple[str, str], Given]:
    return {("row", ""): Given(str(place[0]), entry.spot), ("column", ""): Given(str(place[1]), entry.spot)}
