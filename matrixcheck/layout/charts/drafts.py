"""What charts say, before it is a layout: each value with the place where it is printed.

A matrix, a line, a cell holds for every field all that any chart says of it. What two places say differently is decided
later, in one place.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from matrixcheck.layout.charts.spots import Spot
from matrixcheck.layout.model import Kind
from matrixcheck.layout.numbering import Number


class Given(NamedTuple):
    """A value as printed, and where."""

    value: str
    spot: Spot


NOWHERE = Spot("", 0)


class Note(NamedTuple):
    """What is said of a place of a chart: an entry that was left out, or a reading that is a guess."""

    spot: Spot
    text: str

    def __str__(self) -> str:
        return f"{self.spot}: {self.text}"


Facts = dict[str, list[Given]]


def add(facts: Facts, name: str, value: str, spot: Spot) -> None:
    """Note a value for a field; the same value again adds nothing."""
    known = facts.setdefault(name, [])
    if value and all(given.value != value for given in known):
        known.append(Given(value, spot))


@dataclass
class LineDraft:
    """A row or column. `refs` are the parts of its path in the order in which they were met.

    `ordered` says that this is the order of the path, and not that of the chart's headings.
    """

    label: str = ""
    facts: Facts = field(default_factory=dict)
    refs: list[Given] = field(default_factory=list)
    ordered: bool = False


@dataclass
class CellDraft:
    """A crossing. A number without a name is a place where nothing is fitted, unless `stand_in` is the name there.

    That is what a device is called whose chart has numbers alone, until another chart gives its name.
    """

    facts: Facts = field(default_factory=dict)
    number: Number | None = None
    spot: Spot = NOWHERE
    stand_in: str = ""


@dataclass
class MatrixDraft:
    """A matrix as one chart or several give it; `cells` by row and column, counted from 0.

    `listed` has the places of a list's numbers while it is read.
    """

    kind: Kind | None
    shape: str
    chart: int
    spot: Spot
    id: str = ""
    facts: Facts = field(default_factory=dict)
    columns: list[LineDraft] = field(default_factory=list)
    rows: list[LineDraft] = field(default_factory=list)
    cells: dict[tuple[int, int], CellDraft] = field(default_factory=dict)
    listed: dict[Number, tuple[int, int]] = field(default_factory=dict)
    relay: str = ""
    strobe: str = ""
    shared: bool = True

    @property
    def by_number(self) -> dict[Number, tuple[int, int]]:
        """Return the place of each number that the charts print."""
        return {cell.number: place for place, cell in self.cells.items() if cell.number is not None}

    def lines(self, side: str) -> list[LineDraft]:
        """Return the lines of a side."""
        return self.columns if side == "column" else self.rows


@dataclass
class Entry:
    """A line of a list: its facts by field, with the line that each is of ("" where the heading doesn't say).

    `used` are the fields that were asked for: what nobody asked for is left over.
    """

    spot: Spot
    facts: dict[tuple[str, str], Given]
    used: set[tuple[str, str]] = field(default_factory=set)

    def given(self, name: str, of: str = "") -> Given | None:
        """Return what it says in a field and where, None where it says nothing."""
        self.used.add((name, of))
        return self.facts.get((name, of))

    def text(self, name: str, of: str = "") -> str:
        """Return what it says in a field, "" where it says nothing."""
        given = self.given(name, of)
        return given.value if given else ""

    def unused(self) -> list[tuple[str, Given]]:
        """List what nobody asked for."""
        return [(name, given) for (name, of), given in self.facts.items() if (name, of) not in self.used]


@dataclass
class Listing:
    """A list of devices, or of parts."""

    kind: Kind | None
    chart: int
    spot: Spot
    title: str
    fields: frozenset[tuple[str, str]]
    entries: list[Entry]


@dataclass
class Understood:
    """All that the charts say, in their order, and what was left out or guessed on the way.

    `parts` has for each designator what lists say of the part beside it, by key of a layout's part.
    """

    grids: list[MatrixDraft] = field(default_factory=list)
    lists: list[Listing] = field(default_factory=list)
    titles: list[Given] = field(default_factory=list)
    machine: Given | None = None
    parts: dict[str, Facts] = field(default_factory=dict)
    left_over: list[Note] = field(default_factory=list)
    guessed: list[Note] = field(default_factory=list)
