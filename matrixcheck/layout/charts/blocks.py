"""A sheet cut into charts: each with the lines of text above it, its rows, and what it is, a grid or a list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from matrixcheck.layout.charts.drafts import Given
from matrixcheck.layout.charts.sheets import Sheet
from matrixcheck.layout.charts.spots import Spot
from matrixcheck.layout.charts.values import is_label, line_heading
from matrixcheck.layout.charts.words import heading_of, is_unused, side_of

FACTS = frozenset(
    {"machine", "matrix", "kind", "name", "numbering", "strobe", "diodes", "volts", "supply", "rows shared"}
)
"""What an exported chart says of itself, in lines above it."""
MOST_HEADS = 6
"""So many rows may head a grid before its columns have labels."""
_NAMES = frozenset({"name", "device"})
Shape = Literal["grid", "list", "exported", "none"]


@dataclass(frozen=True)
class Row:
    """A row of a chart and its count in the sheet, from 1."""

    at: int
    entries: tuple[str, ...]

    def __getitem__(self, column: int) -> str:
        return self.entries[column] if column < len(self.entries) else ""

    @property
    def filled(self) -> list[int]:
        """Return the columns, from 0, in which something stands."""
        return [column for column, entry in enumerate(self.entries) if entry]


@dataclass
class Block:
    """One chart of a sheet. `facts` are lines of a word of ours and its value, as an exported chart has them."""

    sheet: str
    titles: list[tuple[Spot, str]] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    facts: dict[str, Given] = field(default_factory=dict)
    shape: Shape = "none"

    def spot(self, row: Row, column: int | None = None) -> Spot:
        """Return the place of an entry, or of a whole row; the column from 0."""
        return Spot(self.sheet, row.at, 0 if column is None else column + 1)


def blocks_of(sheet: Sheet) -> Iterator[Block]:
    """Yield the charts of a sheet. A chart begins after an empty row, with a line of text or with its headings."""
    block = Block(sheet.name)
    rows = [Row(at, entries) for at, entries in enumerate(sheet.rows, 1)]
    after_gap = False
    for place, row in enumerate(rows):
        if not row.filled:
            after_gap = True
            continue
        if block.rows and after_gap and _begins(row, rows[place + 1 :]):
            yield _shaped(block)
            block = Block(sheet.name)
        after_gap = False
        if not block.rows and (word := fact_word(row)):
            block.facts[word] = Given(row[1], block.spot(row, 1))
        elif not block.rows and _is_title(row):
            block.titles += [(block.spot(row, column), row[column]) for column in row.filled]
        else:
            block.rows.append(row)
    if block.rows or block.titles or block.facts:
        yield _shaped(block)


def fact_word(row: Row) -> str:
    """Return the word of a line that says something of a whole exported chart, as `kind:`; "" where it is none."""
    word = row[0].removesuffix(":")
    return word if row[0].endswith(":") and word in FACTS else ""


def is_list_head(row: Row) -> bool:
    """Return whether a row heads a list: most entries are headings, of more than lines alone."""
    found = [heading for column in row.filled if (heading := heading_of(row[column]))]
    fields = {heading.field for heading in found}
    identifying = {"number", "name", "device", "string", "ref", "rating"} & fields
    return len(found) >= 2 and len(found) * 5 >= len(row.filled) * 3 and bool(identifying)


def is_headed(entry: str) -> bool:
    """Return whether an entry can head a line of a grid: a label, a side, a wire, parts, or a word for these."""
    if is_label(entry) or heading_of(entry):
        return True
    found = line_heading(entry)
    return bool(found.label or found.wire or found.refs) and not found.left


def heads_line(entry: str) -> bool:
    """Return whether an entry heads a line, and is not a word for what stands beside it."""
    return is_headed(entry) and not heading_of(entry)


def _shaped(block: Block) -> Block:
    if "matrix" in block.facts:
        block.shape = "exported"
        return block
    # Pairs from the first column of the first row on head a list that is printed in several parts.
    pairs = next((at for at, row in enumerate(block.rows) if (starts := _pairs(row)) and (at or starts[0])), None)
    if pairs is not None:
        block.rows = _joined(block.rows, pairs)
    head = next((place for place, row in enumerate(block.rows) if is_list_head(row)), None)
    if head is not None:
        block.titles += [(block.spot(row, column), row[column]) for row in block.rows[:head] for column in row.filled]
        block.rows, block.shape = block.rows[head:], "list"
    elif len(block.rows) > 1 and _columns_headed(block.rows) >= 1:
        block.shape = "grid"
    return block


def _columns_headed(rows: Sequence[Row]) -> int:
    """Return in how many columns but the first something stands below the heading of a line."""
    for place, head in enumerate(rows[:MOST_HEADS]):
        below = rows[place + 1 :]
        heads = (column for column in head.filled if column > 0 and heads_line(head[column]))
        found = sum(any(row[column] for row in below) for column in heads)
        if found or (place == 0 and side_of(head[0]) is not None and len(head.filled) > 1):
            return max(found, 1)
    return 0


def _pairs(row: Row) -> list[int]:
    """Return the columns at which pairs of number and name begin, in a row that heads two such pairs or more."""
    fields = {column: heading.field for column in row.filled if (heading := heading_of(row[column]))}
    starts = [column for column, field in fields.items() if field == "number" and fields.get(column + 1) in _NAMES]
    return starts if len(starts) > 1 else []


def _joined(rows: Sequence[Row], head: int) -> list[Row]:
    """Return the rows with each pair of number and name as one entry, without the row that heads the pairs."""
    starts = _pairs(rows[head])
    left = range(starts[0])

    def one(row: Row) -> Row:
        pairs = (" ".join(filter(None, (row[start], row[start + 1]))) for start in starts)
        beyond = (row[column] for column in range(starts[-1] + 2, len(row.entries)))
        return Row(row.at, (*(row[column] for column in left), *pairs, *beyond))

    return [one(row) for place, row in enumerate(rows) if place != head]


def _begins(row: Row, rest: Sequence[Row]) -> bool:
    following = next((other for other in rest if other.filled), None)
    return fact_word(row) != "" or is_list_head(row) or (_is_title(row) and following is not None) or _heads_grid(row)


def _heads_grid(row: Row) -> bool:
    return not row[0] and len(row.filled) > 1 and all(is_headed(row[column]) for column in row.filled)


def _is_title(row: Row) -> bool:
    """Return whether a row is a line of text above a chart: an entry or two, none of which heads anything."""
    filled = row.filled
    if len(filled) == 1 and filled[0] == 0:
        return not is_unused(row[0])
    return len(filled) <= 2 and filled[0] == 0 and not any(is_headed(row[column]) for column in filled)
