"""Lines of one kind given together: `[matrix.column]` with a list for each key, in place of a table for each column.

`wire = ["GN/BN", "GN/RD"]` gives each line its own. In `path = ["Q1...8", "X1-1...4, X2-1...4"]` each text is one step
of all paths: a run of designators, one a line, in the order of the lines. What has no run and no comma holds for every
line. `-` is nothing, for one line. All of it means what the same lines mean that are written out one by one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.problems import Flaw, Loc, nearest, shown
from matrixcheck.layout.raw import Table, tables

SIDES = ("column", "row")
TEXTS = ("label", "name", "wire", "select", "when")
"""Keys with one text a line, or one for all."""
RUNS = ("path", "supply")
"""Keys with a list of steps, each a run over the lines."""
KEYS = ("label", "name", "wire", "path", "chain", "supply", "select", "when")
NOTHING = "-"
_RUN = re.compile(r"(?P<head>.*?)(?P<first>[0-9]{1,4})\s*(?:\u2026|\.\.\.?)\s*(?P<again>.*?)(?P<last>[0-9]{1,4})")


class Spelt(NamedTuple):
    """A layout's data with every line by itself, and where each place of it was written."""

    content: Table
    flaws: list[Flaw]
    written: dict[Loc, Loc]

    def origin(self, loc: Loc) -> Loc:
        """Return where a place of the data was written."""
        for depth in range(len(loc), 0, -1):
            if loc[:depth] in self.written:
                return (*self.written[loc[:depth]], *loc[depth:])
        return loc


def spelt_out(content: Table) -> Spelt:
    """Return a layout's data with lines that are given together written out one by one."""
    spelt = Spelt(dict(content), [], {})
    given = content.get("matrix")
    if not isinstance(given, list):
        return spelt
    matrices = list(given)
    for place, matrix in tables(given):
        together = [side for side in SIDES if isinstance(matrix.get(side), dict)]
        if together:
            matrices[place] = matrix | {side: _side(matrix, ("matrix", place, side), spelt) for side in together}
    spelt.content["matrix"] = matrices
    return spelt


def _side(matrix: Table, loc: Loc, spelt: Spelt) -> list[Table]:
    """Return the lines of a side, without what can't be read: that is among the flaws."""
    side = str(loc[-1])
    table = matrix[side]
    count = _count(matrix.get("cells"), side)
    if count is None:
        return []
    lines: list[Table] = [{} for _ in range(count)]
    for key, value in table.items():
        here = (*loc, key)
        if key not in KEYS:
            meant = nearest(key, KEYS)
            reason = "is no known key" if meant else f"is no known key: use one of {', '.join(KEYS)}"
            spelt.flaws.append(Flaw(here, reason, meant))
        elif key in RUNS:
            _add_runs(value, here, lines, spelt)
        else:
            _add_texts(value, here, lines, spelt)
    for place in range(count):
        spelt.written.setdefault((*loc, place), loc)
    return lines


def _count(cells: Any, side: str) -> int | None:
    """Return how many lines a side has, None where the grid doesn't tell."""
    if not isinstance(cells, list) or not cells or not all(isinstance(row, list) for row in cells):
        return None
    count = len(cells) if side == "row" else max(map(len, cells))
    return count if count <= LARGEST_SIDE else None


def _add_texts(value: Any, here: Loc, lines: list[Table], spelt: Spelt) -> None:
    key = str(here[-1])
    if isinstance(value, str) and key in TEXTS:
        found = run(value)
        entries: list[Any] = [value] * len(lines) if found is None or key not in ("label",) else found
        places: list[Loc] = [here] * len(entries)
    elif isinstance(value, list):
        entries, places = value, [(*here, place) for place in range(len(value))]
    else:
        spelt.flaws.append(Flaw(here, f"needs a list, one entry a line, not {shown(value)}"))
        return
    if _is_miscounted(len(entries), here, lines, spelt):
        return
    for place, (line, entry, written) in enumerate(zip(lines, entries, places, strict=True)):
        if entry in ("", NOTHING, []) and key not in ("label", "name"):
            continue
        line[key] = entry
        spelt.written[*here[:-1], place, key] = written


def _add_runs(value: Any, here: Loc, lines: list[Table], spelt: Spelt) -> None:
    key = str(here[-1])
    if not isinstance(value, list):
        spelt.flaws.append(Flaw(here, f"needs a list in [ ], one step of the path an entry, not {shown(value)}"))
        return
    for step, text in enumerate(value):
        loc = (*here, step)
        if not isinstance(text, str):
            spelt.flaws.append(Flaw(loc, f"needs text in quotes, as in 'Q1...8', not {shown(text)}"))
            continue
        refs = run(text)
        if refs is None:
            refs = [text] * len(lines)
        if _is_miscounted(len(refs), loc, lines, spelt):
            continue
        for place, (line, ref) in enumerate(zip(lines, refs, strict=True)):
            if ref != NOTHING:
                known = line.setdefault(key, [])
                spelt.written[*here[:-1], place, key, len(known)] = loc
                spelt.written.setdefault((*here[:-1], place, key), here)
                known.append(ref)


def _is_miscounted(found: int, loc: Loc, lines: list[Table], spelt: Spelt) -> bool:
    side = str(loc[2])
    if found != len(lines):
        spelt.flaws.append(Flaw(loc, f"gives {found} where the grid has {len(lines)} {side}s: '-' is nothing for one"))
    return found != len(lines)


def run(text: str) -> list[str] | None:
    """Return what a text like `X1-1...4, X2-1` stands for, one a line; None where it is one thing for all lines."""
    pieces = [piece.strip() for piece in text.split(",")]
    found = [list(_piece(piece)) for piece in pieces]
    if len(pieces) == 1 and found == [[pieces[0]]]:
        return None
    return [one for piece in found for one in piece][: LARGEST_SIDE + 1]


def _piece(piece: str) -> Iterator[str]:
    match = _RUN.fullmatch(piece)
    if match is None or match["again"] not in ("", match["head"]):
        yield piece
        return
    first, last = int(match["first"]), int(match["last"])
    step = 1 if last >= first else -1
    for count in range(first, last + step, step):
        yield f"{match['head']}{count}"


def with_one(text: str, count: int, place: int, entry: str) -> str:
    """Return a text of `count` lines in which the line at `place`, from 0, has `entry`: a run is parted there alone."""
    if run(text) is None:
        return ", ".join([text] * place + [entry] + [text] * (count - place - 1))
    pieces: list[str] = []
    start = 0
    for piece in (each.strip() for each in text.split(",")):
        end = start + len(list(_piece(piece)))
        if start <= place < end:
            before, after = _part_of(piece, 0, place - start), _part_of(piece, place - start + 1, end - start)
            pieces += filter(None, [before, entry, after])
        else:
            pieces.append(piece)
        start = end
    return ", ".join(pieces)


def _part_of(piece: str, start: int, end: int) -> str:
    """Return a stretch of a run, written as the run is; "" for an empty one."""
    found = list(_piece(piece))[start:end]
    match = _RUN.fullmatch(piece)
    if len(found) < 2 or match is None:
        return "".join(found)
    dots = piece[match.end("first") : match.start("again")]
    return f"{found[0]}{dots}{match['again']}{found[-1].removeprefix(match['head'])}"
