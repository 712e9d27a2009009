"""Parts with names: as lists describe them, else by what runs through them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from matrixcheck.layout.charts.drafts import Note, Understood
from matrixcheck.layout.charts.placing import is_part_list
from matrixcheck.layout.charts.values import refs_in
from matrixcheck.layout.numbering import natural_order
from matrixcheck.layout.problems import shown
from matrixcheck.layout.raw import Table

_SINGULAR = {"switches": "switch", "lamps": "lamp", "coils": "coil", "inputs": "input", "lighting": "lighting string"}


def parts_of(understood: Understood, matrices: Sequence[Table]) -> Iterator[Table]:
    """Yield the parts that lists describe, then others of which charts say what runs through them."""
    used = _uses(matrices)
    described: dict[str, Any] = {}
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
                    "name": entry.text("name") or entry.text("string"),
                    "place": entry.text("zone"),
                    "rating": entry.text("rating"),
                }
                described[ref] = {"ref": ref} | {key: text for key, text in texts.items() if text}
    for ref, lines in used.items():
        if ref in described:
            yield described[ref]
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


def _refs_of(line: Table) -> dict[str, None]:
    refs = [*line.get("path", []), *line.get("supply", []), *filter(None, [line.get("select")])]
    return {name: None for ref in refs for name in (ref, ref.partition("-")[0])}


def _lines(matrix: str, side: str, labels: Sequence[str]) -> str:
    counts = [int(label) for label in labels if label.isdecimal()]
    if len(counts) == len(labels) > 2 and counts == list(range(counts[0], counts[-1] + 1)):
        return f"{matrix} {side}s {counts[0]} to {counts[-1]}"
    return f"{matrix} {side}{'s' if len(labels) > 1 else ''} {', '.join(labels)}"
