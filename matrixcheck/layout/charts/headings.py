"""What the headings of a line say, noted for that line: label, wire, parts of its path, name."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matrixcheck.layout.charts.drafts import Given, LineDraft, Note, Understood, add
from matrixcheck.layout.charts.values import is_label, is_other_spelling, line_heading, refs_in
from matrixcheck.layout.charts.words import heading_of, is_unused, names_drive, names_sense
from matrixcheck.layout.problems import shown

_BY_LETTER = {"driver": "Q", "chip": "U", "fuse": "F", "relay": "K"}
_RATING = re.compile(r"\d+(?:[.,/]\d+)*\s*m?A(?:\W.*)?", re.IGNORECASE)
PARTS = frozenset({"driver", "chip", "plug", "relay"})


def note_heading(given: Given, word: str, line: LineDraft, into: Understood) -> str:
    """Note what an entry at the head of a line says. Return the side that it names, "" for none.

    `word` is the heading of the heading, as "Wire" at the left of the row of wires; "" where there is none.
    """
    if not given.value or is_unused(given.value) or (heading_of(given.value) and not is_label(given.value)):
        return ""
    heading = heading_of(word)
    kind = heading.field if heading else ""
    if kind in ("wire", "name"):
        add(line.facts, kind, " ".join(given.value.split()), given.spot)
        return ""
    found = line_heading(given.value)
    several = bool(found.refs) and bool(found.label or found.wire)
    if not several and (kind in PARTS or kind in ("fuse", "feed")):
        note_parts(given, kind, line, into)
        return ""
    if found.label and not line.label:
        line.label = found.label
    if found.wire:
        add(line.facts, "wire", found.wire, given.spot)
    _note_refs(found.refs, given, line, into)
    if found.left and not line.label and len(found.left) <= 12 and kind in ("column", "row", "number", ""):
        line.label = found.left
    elif found.left:
        add(line.facts, "name", found.left, given.spot)
    return "" if names_drive(given.value) or names_sense(given.value) else found.side


def note_parts(given: Given, kind: str, line: LineDraft, into: Understood) -> None:
    """Note the designators of an entry under a heading that promises some."""
    refs, rest = refs_in(given.value)
    letter = _BY_LETTER.get(kind)
    if not refs and letter and rest.isdecimal():
        refs, rest = (f"{letter}{int(rest)}",), ""
        into.guessed.append(Note(given.spot, f"{shown(given.value)} under {kind} is read as {refs[0]}"))
    if kind == "fuse":
        for ref in refs:
            add(line.facts, "supply", ref, given.spot)
        if len(refs) == 1 and rest and not is_unused(rest):
            note_fuse(refs[0], Given(rest, given.spot), into)
            rest = ""
    else:
        _note_refs(refs, given, line, into)
    if rest and not is_unused(rest):
        into.left_over.append(Note(given.spot, f"{shown(rest)} is no designator of a {kind}"))


def note_fuse(ref: str, given: Given, into: Understood) -> None:
    """Note what stands beside the designator of a fuse: its rating, as "4 A T", else its name."""
    text = " ".join(given.value.split()).strip("()[]-:= ")
    key = "rating" if _RATING.fullmatch(text) else "name"
    add(into.parts.setdefault(ref, {}), key, text, given.spot)


def number_of_line(lines: Sequence[LineDraft], place: int) -> str:
    """Return the count of a line as its label, where that is free."""
    return str(place) if all(line.label != str(place) for line in lines) else ""


def _note_refs(refs: Sequence[str], given: Given, line: LineDraft, into: Understood) -> None:
    if refs and is_other_spelling(given.value):
        into.guessed.append(Note(given.spot, f"{shown(' '.join(given.value.split()))} is read as {', '.join(refs)}"))
    known = {one.value for one in line.refs}
    line.refs += [Given(ref, given.spot) for ref in refs if ref not in known]
