"""A chart that this program printed, as CSV, and read back as it was: every entry stands where its heading says."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.blocks import Block, Row
from matrixcheck.layout.charts.drafts import CellDraft, Given, LineDraft, MatrixDraft, Understood, add
from matrixcheck.layout.charts.printed import MACHINE, Printed, printed
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.numbering import parse_number
from matrixcheck.layout.problems import shown

_PATHS = frozenset({"Path", "Chip", "Driver", "Part", "Plug pin"})
_FIELDS = {"Name": "name", "Wire": "wire", "Relay": "select", "When": "when"}


def csv_of(layout: Layout) -> str:
    """Return the charts of all matrices as comma-separated values (RFC 4180), which `layout import` reads back."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([f"{MACHINE}:", layout.name])
    for matrix in layout.matrices:
        writer.writerow([])
        writer.writerows(_rows(printed(matrix)))
    return text.getvalue()


def _rows(chart: Printed) -> Iterator[Sequence[str]]:
    yield from ((f"{word}:", value) for word, value in chart.facts)
    before = [""] * (len(chart.left) - 1)
    yield from ([*before, heads.word, *heads.entries] for heads in chart.top)
    yield [heads.word for heads in chart.left]
    for place, crossings in enumerate(chart.crossings):
        yield [*(heads.entries[place] for heads in chart.left), *map(str, crossings)]


def read_exported(block: Block, chart: int, into: Understood) -> None:
    """Note the matrix of an exported chart. Raises InputError for one that was changed beyond reading."""
    draft = MatrixDraft(
        _kind(block), "exported grid", chart, block.facts["matrix"].spot, id=block.facts["matrix"].value
    )
    draft.facts = {name: [given] for name, given in block.facts.items()}
    draft.strobe = block.facts["strobe"].value if "strobe" in block.facts else "column"
    draft.shared = "rows shared" not in block.facts or block.facts["rows shared"].value != "no"
    corner = next((place for place, row in enumerate(block.rows) if row[0] == "Row"), None)
    if corner is None or corner == 0:
        raise InputError(f"{draft.spot}: no row 'Row' heads the rows of this chart", "export it again")
    width = len(block.rows[corner].filled)
    body = block.rows[corner + 1 :]
    count = max((len(row.entries) for row in block.rows[:corner]), default=0) - width
    draft.columns = [LineDraft() for _ in range(count)]
    draft.rows = [LineDraft() for _ in body]
    for row in block.rows[:corner]:
        for place, line in enumerate(draft.columns):
            _note(line, row[width - 1], Given(row[width + place], block.spot(row, width + place)))
    for row, line in zip(body, draft.rows, strict=True):
        for column in range(width):
            _note(line, block.rows[corner][column], Given(row[column], block.spot(row, column)))
    for at, row in enumerate(body):
        _note_crossings(block, at, row, width, draft)
    into.grids.append(draft)


def _kind(block: Block) -> Kind:
    given = block.facts.get("kind")
    try:
        return Kind(given.value if given else "")
    except ValueError:
        spot = given.spot if given else block.facts["matrix"].spot
        raise InputError(f"{spot}: the kind is none of {', '.join(Kind)}", "put it right in the chart") from None


def _note(line: LineDraft, word: str, given: Given) -> None:
    if word in ("Column", "Row"):
        line.label = given.value
    elif word in _PATHS:
        line.refs += [Given(ref, given.spot) for ref in given.value.split()]
        line.ordered = line.ordered or word == "Path"
    elif word == "Supply":
        for ref in given.value.split():
            add(line.facts, "supply", ref, given.spot)
    elif word in _FIELDS:
        add(line.facts, _FIELDS[word], given.value, given.spot)
    elif given.value:
        raise InputError(f"{given.spot}: {shown(word)} heads nothing that a chart has", "export it again")


def _note_crossings(block: Block, at: int, row: Row, width: int, draft: MatrixDraft) -> None:
    for column in range(width, len(row.entries)):
        text, spot = row[column], block.spot(row, column)
        if not text:
            continue
        if column - width >= len(draft.columns):
            raise InputError(f"{spot}: {shown(text)} stands under no heading", "head its column, or take it out")
        digits, _, name = text.partition(" ")
        number = parse_number(digits)
        if number is None:
            raise InputError(f"{spot}: {shown(text)} begins with no number", "write the number, then the name")
        cell = draft.cells[at, column - width] = CellDraft(number=number, spot=spot)
        add(cell.facts, "name", name, spot)
