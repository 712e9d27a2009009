"""Lists without rows and columns: coil tables, lighting strings, direct inputs."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.drafts import CellDraft, Entry, LineDraft, Listing, MatrixDraft, Note, Understood, add
from matrixcheck.layout.charts.entries import LINE_FIELDS, note_cell, note_line, owned, put
from matrixcheck.layout.charts.values import numbered, refs_in
from matrixcheck.layout.charts.words import is_unused
from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.model import Kind

_COMMON = re.compile(r"common|return|ground|gnd|common return|masse|commun", re.IGNORECASE)

_DRIVEN = (("driver", ""), ("plug", "row"), ("plug", ""), ("number", ""))
_FED = (("side", ""), ("feed", ""), ("fuse", ""), ("wire", "feed"), ("plug", "feed"))


def coil_table(listing: Listing, into: Understood) -> MatrixDraft:
    """Return a coil bank: a row for each driver, a column for each side or feed."""
    draft = MatrixDraft(listing.kind or Kind.COIL, "coil table", listing.chart, listing.spot)
    rows = _grouped(listing.entries, _DRIVEN)
    columns = _grouped(listing.entries, _FED)
    labelled = ("side", "") in listing.fields or len(columns) > 1
    draft.columns = [LineDraft(", ".join(refs_in(label)[0]) or label if labelled else "") for label in columns]
    draft.rows = [LineDraft() for _ in rows]
    draft.shared = len(columns) > 1 or len(rows) < len(listing.entries)
    fed = owned(listing, "column") | {name: "" for name in ("feed", "fuse") if (name, "") in listing.fields}
    driven = {name: "" for name in ("chip", "driver", "plug", "wire") if (name, "") in listing.fields}
    for row, (_, mates) in enumerate(rows.items()):
        for entry in mates:
            column = next(place for place, group in enumerate(columns.values()) if entry in group)
            put(draft, (row, column), entry, listing, into)
            note_line(draft.columns[column], entry, fed, into)
            note_line(draft.rows[row], entry, driven | owned(listing, "row"), into)
    _note_relay(draft, listing, into)
    return draft


def _first(entry: Entry, *fields: tuple[str, str]) -> str:
    return next((given.value for name, of in fields if (given := entry.given(name, of))), "")


def _grouped(entries: Sequence[Entry], fields: Sequence[tuple[str, str]]) -> dict[str, list[Entry]]:
    """Return entries by what the first of the fields that they fill holds."""
    groups: dict[str, list[Entry]] = {}
    for entry in entries:
        groups.setdefault(_first(entry, *fields), []).append(entry)
    return groups


def _note_relay(draft: MatrixDraft, listing: Listing, into: Understood) -> None:
    """Note the relay that changes sides, from a column of the list or from the text above it."""
    named = {entry.text("relay") for entry in listing.entries} - {""}
    in_title = [ref for ref in refs_in(listing.title)[0] if ref.startswith("K")]
    relay = next(iter(refs_in(next(iter(named), ""))[0]), in_title[0] if in_title else "")
    if len(draft.columns) < 2 or not relay:
        if ("side", "") in listing.fields and len(draft.columns) > 1:
            into.guessed.append(Note(listing.spot, "no changeover relay is named: the layout has none"))
        return
    draft.relay = relay
    for line in draft.columns:
        positions = {entry.text("when") for entry in listing.entries if entry.text("side") == line.label} - {""}
        about = re.search(rf"(?<!\w){re.escape(line.label)}(?!\w)([^,;.]*)", listing.title.replace(relay, ""))
        if when := _position(" ".join(positions) or (about[1] if about else "")):
            add(line.facts, "when", when, listing.spot)


def _position(text: str) -> str:
    if re.search(r"\b(?:rest|off|released|de-?energi[sz]ed|ruhe|repos)\b", text.casefold()):
        return "rest"
    return "pulled" if re.search(r"\b(?:pulled|on|energi[sz]ed|operated)\b", text.casefold()) else ""


def lighting_strings(listing: Listing, into: Understood) -> MatrixDraft:
    """Return lighting strings: a column each, its lamps down the column."""
    draft = MatrixDraft(Kind.LAMP, "lighting strings", listing.chart, listing.spot, shared=False)
    fields = {name: of for name, of in listing.fields if name in LINE_FIELDS}
    one_a_line = ("lamps", "") in listing.fields or len({entry.text("string") for entry in listing.entries}) == len(
        listing.entries
    )
    strings = _grouped(listing.entries, (("string", ""), ("number", "")))
    for column, (label, members) in enumerate(strings.items()):
        line = LineDraft(label)
        draft.columns.append(line)
        lamps: list[tuple[str, Entry]] = []
        for entry in members:
            note_line(line, entry, fields, into)
            for field in ("name", "zone") if one_a_line else ():
                if "name" not in line.facts and entry.text(field):
                    add(line.facts, "name", entry.text(field), entry.facts[field, ""].spot)
            lamps += [(lamp, entry) for lamp in _lamps(entry)]
        for row, (lamp, entry) in enumerate(lamps):
            spot = entry.spot
            cell = draft.cells[row, column] = CellDraft(spot=spot)
            add(cell.facts, "name", lamp, spot)
            if not one_a_line:
                cell.number = numbered(entry.text("number")).number
                note_cell(cell.facts, entry, Kind.LAMP, into)
    draft.rows = [LineDraft() for _ in range(max((row for row, _ in draft.cells), default=0) + 1)]
    return draft


def _lamps(entry: Entry) -> Iterator[str]:
    lamps = entry.text("lamps") or entry.text("name") or f"string {entry.text('string')}"
    pieces = re.split(r"[,;\n]", lamps) if entry.text("lamps") else [lamps]
    return (piece.strip() for piece in pieces if not is_unused(piece.strip()))


def direct_inputs(listing: Listing, into: Understood) -> MatrixDraft:
    """Return devices with a wire of their own each: one column, the return, and a row for each."""
    shape = "direct inputs" if listing.kind == Kind.SWITCH else "list"
    draft = MatrixDraft(listing.kind, shape, listing.chart, listing.spot, shared=False)
    draft.columns = [LineDraft()]
    fields = {name: of for name, of in listing.fields if name in LINE_FIELDS}
    for entry in listing.entries:
        common = next(filter(_COMMON.fullmatch, (entry.text("number"), entry.text("name"))), "")
        if common and numbered(entry.text("number")).number is None:
            draft.columns[0].label = common
            note_line(draft.columns[0], entry, fields, into)
            continue
        line = LineDraft()
        draft.rows.append(line)
        if len(draft.rows) > LARGEST_SIDE:
            raise InputError(
                f"{entry.spot}: a list of more than {LARGEST_SIDE} devices", "give each its column and row"
            )
        put(draft, (len(draft.rows) - 1, 0), entry, listing, into)
        note_line(line, entry, fields, into)
    return draft
