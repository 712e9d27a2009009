"""What stands on the bench: one bank's wiring as the layout's TOML gives it, the electrical values, and its faults."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from typing import Any

Place = tuple[int, int]
"""Row and column, counted from 1."""


@dataclass(frozen=True)
class Conductor:
    """One row or column. `chain` holds the places in the order its wire visits them; None when that is not known."""

    key: str
    path: tuple[str, ...] = ()
    chain: tuple[Place, ...] | None = None
    supply: tuple[str, ...] = ()
    when: str | None = None

    @property
    def is_column(self) -> bool:
        """Whether it is a column."""
        return self.key[0] == "c"


@dataclass(frozen=True)
class Bank:
    """One matrix. `lines` maps `c3`, `r1` to its conductor; `notes` holds what the layout says of single cells."""

    id: str
    kind: str
    volts: float
    rows: int
    columns: int
    fitted: frozenset[Place]
    lines: dict[str, Conductor]
    supply: tuple[str, ...] = ()
    strobe: str = "column"
    diodes: bool = True
    notes: dict[Place, dict[str, Any]] = field(default_factory=dict)
    shared: bool = True

    @property
    def is_strings(self) -> bool:
        """Whether the columns are lighting strings: every lamp returns to ground by itself."""
        return self.kind == "lamp" and not self.shared

    def through(self, part: str) -> tuple[str, ...]:
        """The lines whose path runs through a part; a connector or chip counts by any of its contacts."""
        return tuple(
            key for key, line in self.lines.items() if any(part in (ref, ref.partition("-")[0]) for ref in line.path)
        )

    def cells_of(self, line: str) -> tuple[Place, ...]:
        """The fitted places of a line, along its chain where that is known."""
        at = 1 if line[0] == "c" else 0
        found = sorted(place for place in self.fitted if place[at] == int(line[1:]))
        return self.lines[line].chain or tuple(found)

    def lamp(self, place: Place) -> str | None:
        """`led` or `filament` where a lamp or flash lamp sits, None for a coil or switch."""
        note = self.notes.get(place, {})
        if self.kind == "lamp" or note.get("device") == "flash lamp":
            return str(note.get("fitted", "filament"))
        return None


@dataclass(frozen=True)
class Fault:
    """One fault, lines by their keys within the bank. A short or crossing names both its lines; a break gives the
    count of cells before it, or the very cells beyond it; a plug one pin off whether the loom's contact k sits on the
    board's pin k + 1 (1) or k - 1 (-1); swapped plugs name each other (`part`, `other`)."""

    fault: str
    part: str | None = None
    lines: tuple[str, ...] = ()
    cells: tuple[Place, ...] = ()
    after: int | None = None
    when: str | None = None
    other: str | None = None

    def json(self, bank: str) -> dict[str, Any]:
        """As in a list of injected faults."""
        body: dict[str, Any] = {"fault": self.fault}
        if self.part:
            body["part"] = self.part
        if self.lines:
            body["lines"] = [f"{bank}.{line}" for line in self.lines]
        if self.cells:
            body["cells"] = [f"{bank}.{address(cell)}" for cell in self.cells]
        if self.after is not None:
            body["after"] = self.after
        if self.when:
            body["when"] = self.when
        if self.other:
            body["with"] = self.other
        return body


def fault_of(body: dict[str, Any]) -> Fault:
    """The fault of one entry of a list of injected faults."""
    return Fault(
        body["fault"],
        body.get("part"),
        tuple(line.split(".")[1] for line in body.get("lines", [])),
        tuple(place_of(cell.split(".")[1]) for cell in body.get("cells", [])),
        body.get("after"),
        body.get("when"),
        body.get("with"),
    )


def address(place: Place) -> str:
    """`r1c3` for (1, 3)."""
    return f"r{place[0]}c{place[1]}"


def place_of(text: str) -> Place:
    """(1, 3) for `r1c3`."""
    row, column = text[1:].split("c")
    return int(row), int(column)


def bank_of(text: str) -> Bank:
    """The first matrix of a layout file's text, one whose rows are shared. Its numbers are listed, or run down the
    columns."""
    matrix = tomllib.loads(text)["matrix"][0]
    names = matrix["cells"]
    rows, columns = len(names), len(names[0])
    fitted = frozenset((r, c) for r in range(1, rows + 1) for c in range(1, columns + 1) if names[r - 1][c - 1])

    listed = {number: (r, c) for r, row in enumerate(matrix.get("numbers", ()), 1) for c, number in enumerate(row, 1)}

    def place(number: int) -> Place:
        return listed.get(number) or ((number - 1) % rows + 1, (number - 1) // rows + 1)

    def conductor(key: str, given: dict[str, Any]) -> Conductor:
        chain = tuple(place(number) for number in given["chain"]) if "chain" in given else None
        path, supply = tuple(given.get("path", ())), tuple(given.get("supply", ()))
        return Conductor(key, path, chain, supply, given.get("when"))

    given = {f"c{i}": entry for i, entry in enumerate(matrix.get("column", [{}] * columns), 1)}
    given |= {f"r{i}": entry for i, entry in enumerate(matrix.get("row", [{}] * rows), 1)}
    return Bank(
        matrix["id"],
        matrix["kind"],
        float(matrix.get("volts", 5)),
        rows,
        columns,
        fitted,
        {key: conductor(key, entry) for key, entry in given.items()},
        tuple(matrix.get("supply", ())),
        matrix.get("strobe", "column"),
        matrix.get("diodes", True),
        {place(int(number)): notes for number, notes in matrix.get("cell", {}).items()},
        matrix.get("rows_shared", True),
    )
