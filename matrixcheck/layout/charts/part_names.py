"""Parts with names: as lists describe them, else by what runs through them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from matrixcheck.layout.charts.drafts import Note, Understood
from matrixcheck.layout.charts.placing import is_part_list
from matrixcheck.layout.charts.values import refs_in
from matrixcheck.layout.designators import part_class
from matrixcheck.layout.numbering import is_used, natural_order, number_of
from matrixcheck.layout.problems import shown
from matrixcheck.layout.raw import Table

_SINGULAR = {"switches": "switch", "lamps": "lamp", "coils": "coil", "inputs": "input", "lighting": "lighting string"}
_MOST_NAMED = 6


def parts_of(understood: Understood, matrices: Sequence[Table], said: Mapping[str, Table]) -> Iterator[Table]:
    """Yield the parts that lists describe, then others of which charts say what runs through them.

    `said` has for each designator what a chart of devices says beside it.
    """
    used = _uses(matrices)
    fed = _fed(matrices)
    described: dict[str, Any] = {ref: {"ref": ref} | texts for ref, texts in said.items()}
    for listing in filter(is_part_list, understood.lists):
        for entry in listing.entries:
            heads = ("ref", "fuse", "relay", "plug", "number")
            refs = next((refs for head in heads if (refs := refs_in(entry.text(head))[0])), ())
            if not refs:
                words = ", ".join(given.value for given in entry.facts.values())
                understood.left_over.append(Note(entry.spot, f"{shown(words)}: no designator"))
            for ref in refs:
                if ref not in used:
                    understood.left_over.append(Note(entry.spot, f"{ref} is a part that no line of these charts names"))
                    continue
                texts = {
                    "name": entry.text("name") or entry.text("name", "fuse") or entry.text("string"),
                    "place": entry.text("zone") or entry.text("zone", "fuse"),
                    "rating": entry.text("rating") or entry.text("rating", "fuse"),
                }
                known = described.setdefault(ref, {"ref": ref})
                described[ref] = known | {key: text for key, text in texts.items() if text}
    for ref, lines in used.items():
        feeds = {"name": f"feed of {', '.join(fed[ref])}"} if ref in fed else {}
        if ref in described:
            yield {"ref": ref} | feeds | described[ref]
        elif feeds:
            yield {"ref": ref} | feeds
        elif ref[0] in "UXJPFK" and "-" not in ref:
            yield {"ref": ref, "name": ", ".join(lines)}


def _uses(matrices: Sequence[Table]) -> dict[str, list[str]]:
    """Return for each part and contact which lines run through it, in words."""
    found: dict[str, dict[tuple[str, str], list[str]]] = {}
    for matrix in matrices:
        name: str = matrix["id"]
        where = _SINGULAR.get(name, name)
        for side in ("column", "row"):
            for place, line in enumerate(matrix.get(side, []), 1):
                for ref in _refs_of(line):
                    found.setdefault(ref, {}).setdefault((where, side), []).append(line.get("label", str(place)))
    ordered = sorted(found.items(), key=lambda item: (item[0][0], natural_order(item[0].replace("-", ""))))
    return {ref: [_lines(*where, labels) for where, labels in lines.items()] for ref, lines in ordered}


def _fed(matrices: Sequence[Table]) -> dict[str, list[str]]:
    """Return for each fuse what it feeds, in words: coils by their numbers, other lines by their names."""
    found: dict[str, list[str]] = {}
    for matrix in matrices:
        where = _SINGULAR.get(matrix["id"], matrix["id"])
        for side in ("column", "row"):
            for place, line in enumerate(matrix.get(side, [])):
                label = line.get("label", str(place + 1))
                if where == "coil" and side == "column":
                    words = _coils(matrix, place) or f"coil column {label}"
                elif where == "lighting string":
                    words = f"lighting string {line.get('name') or label}"
                else:
                    words = line.get("name") or f"{where} {side} {label}"
                for ref in (ref for ref in line.get("supply", []) if part_class(ref) == "fuse"):
                    found.setdefault(ref, []).append(words)
    return found


def _coils(matrix: Table, column: int) -> str:
    """Return the coils of a column by their numbers, as "coils 1 to 3"; "" where none is numbered."""
    rows, columns = len(matrix["cells"]), len(matrix["cells"][0])
    fitted = [row for row in range(rows) if matrix["cells"][row][column]]
    if matrix["numbering"] == "listed":
        numbers = [matrix["numbers"][row][column] for row in fitted]
    else:
        numbers = [number_of(matrix["numbering"], row + 1, column + 1, rows, columns) for row in fitted]
    names = [str(number) for number in sorted(filter(is_used, numbers), key=natural_order)]
    if not names:
        return ""
    said = _spanned(names)
    if len(names) > _MOST_NAMED and "," in said:
        return f"{len(names)} coils from {names[0]} to {names[-1]}"
    return f"coil{'s' if len(names) > 1 else ''} {said}"


def _refs_of(line: Table) -> dict[str, None]:
    refs = [*line.get("path", []), *line.get("supply", []), *filter(None, [line.get("select")])]
    return {name: None for ref in refs for name in (ref, ref.partition("-")[0])}


def _lines(matrix: str, side: str, labels: Sequence[str]) -> str:
    return f"{matrix} {side}{'s' if len(labels) > 1 else ''} {_spanned(labels)}"


def _spanned(labels: Sequence[str]) -> str:
    """Return labels in a row, as "1 to 3" where they follow one another."""
    counts = [int(label) for label in labels if label.isdecimal()]
    if len(counts) == len(labels) > 2 and counts == list(range(counts[0], counts[-1] + 1)):
        return f"{counts[0]} to {counts[-1]}"
    return ", ".join(labels)
