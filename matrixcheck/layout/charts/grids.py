"""A grid as a manual prints it: lines headed along the top and down the left, a device at each crossing."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.blocks import Block, Row, heads_line, is_headed
from matrixcheck.layout.charts.drafts import CellDraft, Given, LineDraft, MatrixDraft, Note, Understood, add
from matrixcheck.layout.charts.headings import note_heading, number_of_line
from matrixcheck.layout.charts.spots import Spot
from matrixcheck.layout.charts.stacks import unstacked
from matrixcheck.layout.charts.values import is_label, line_heading, numbered, refs_in
from matrixcheck.layout.charts.words import heading_of, is_unused, kind_in, names_drive, names_sense, side_of
from matrixcheck.layout.limits import LARGEST_SIDE
from matrixcheck.layout.model import Kind
from matrixcheck.layout.numbering import Number
from matrixcheck.layout.problems import shown


def read_grid(block: Block, chart: int, kind: Kind | None, into: Understood) -> None:
    """Note the matrix that a grid gives. Raises InputError, with the place, for an entry that nothing heads."""
    top, columns = _headings(block.rows)
    heads, body = block.rows[:top], block.rows[top:]
    if not body or not columns:
        raise InputError(
            f"{block.spot(block.rows[0])}: no grid and no list here", "head the columns and rows, one entry a crossing"
        )
    body = unstacked(_without_footnotes(block, body, columns, into), columns[0])
    if max(len(body), len(columns)) > LARGEST_SIDE:
        raise InputError(
            f"{block.sheet}: a grid of {len(body)} rows by {len(columns)} columns",
            f"a matrix has at most {LARGEST_SIDE} of each",
        )
    _refuse_unheaded(block, body, columns)
    draft = MatrixDraft(kind, "grid", chart, block.spot(block.rows[0]))
    draft.columns = [LineDraft() for _ in columns]
    draft.rows = [LineDraft() for _ in body]
    sides = (
        _note_top(block, heads, columns, draft, into),
        _note_left(block, _corner_words(heads, columns), body, draft, into, width=columns[0]),
    )
    for lines in (draft.columns, draft.rows):
        for place, line in enumerate(lines, 1):
            line.label = line.label or number_of_line(lines, place)
    _note_crossings(block, body, columns, draft, into)
    into.grids.append(_turned(draft) if sides == ("row", "column") else draft)


def _headings(rows: Sequence[Row]) -> tuple[int, list[int]]:
    """Return how many rows head the grid, and the columns, from 0, that hold crossings."""
    columns: list[int] = []
    labelled = False
    for place, row in enumerate(rows):
        worded = bool(row.filled) and heading_of(row[row.filled[0]]) is not None
        here = [column for column in row.filled if column > 0 and heads_line(row[column])]
        own = [row[column] for column in columns if row[column]]
        led = any(heads_line(row[column]) for column in row.filled if column < columns[0]) if columns else False
        if columns and own and _are_crossings(own, labelled and not worded, led and not worded):
            return place, columns
        if columns and not own and not _is_corner(row):
            return place, columns
        labelled = labelled or any(is_label(row[column]) or line_heading(row[column]).label for column in here)
        columns = sorted({*columns, *here})
    return len(rows), columns


def _are_crossings(entries: list[str], labelled: bool, led: bool) -> bool:
    """Return whether entries below headings are devices.

    Most of them can't head a line, or one can't in a row that has a heading of its own (`led`), or the columns have
    labels already.
    """
    heads = [is_headed(entry) for entry in entries]
    if all(is_unused(entry) for entry in entries):
        return True
    if labelled and all(is_unused(entry) or (is_label(entry) and not refs_in(entry)[0]) for entry in entries):
        return True
    return sum(heads) * 2 < len(entries) or (led and not all(heads))


def _is_corner(row: Row) -> bool:
    return bool(row.filled) and all(heading_of(row[column]) for column in row.filled)


def _without_footnotes(block: Block, body: list[Row], columns: list[int], into: Understood) -> list[Row]:
    """Return the rows without the text below the grid, which is named as left over."""
    end = len(body)
    while end > 1 and not any(body[end - 1][column] for column in columns) and not _heads_row(body[end - 1]):
        end -= 1
    for row in body[end:]:
        for column in row.filled:
            into.left_over.append(Note(block.spot(row, column), f"{shown(row[column])}, below the grid"))
    return body[:end]


def _heads_row(row: Row) -> bool:
    return len(row.filled) == 1 and is_headed(row[row.filled[0]])


def _refuse_unheaded(block: Block, body: Sequence[Row], columns: list[int]) -> None:
    for row in body:
        for column in row.filled:
            if column > columns[0] and column not in columns and not is_unused(row[column]):
                raise InputError(
                    f"{block.spot(row, column)}: {shown(row[column])} stands under no heading",
                    "head its column, or take it out",
                )


def _note_top(block: Block, heads: Sequence[Row], columns: list[int], draft: MatrixDraft, into: Understood) -> str:
    """Note what heads each column. Return the side that the headings name, "" for none."""
    named = ""
    for row in heads:
        words = [row[column] for column in row.filled if column < columns[0]]
        word = words[-1] if words and any(row[column] for column in columns) else ""
        named = named or _worded_side(word, draft, "column")
        for place, column in enumerate(columns):
            given = Given(row[column], block.spot(row, column))
            named = note_heading(given, word, draft.columns[place], into) or named
        for column in row.filled:
            if column not in columns and not heading_of(row[column]) and not is_unused(row[column]):
                into.left_over.append(Note(block.spot(row, column), f"{shown(row[column])} heads nothing"))
    return named


def _note_left(
    block: Block, words: dict[int, str], body: Sequence[Row], draft: MatrixDraft, into: Understood, *, width: int
) -> str:
    """Note what heads each row. Return the side that the headings name, "" for none."""
    named = ""
    for place, row in enumerate(body):
        for column in range(width):
            word = words.get(column, "")
            given = Given(row[column], block.spot(row, column))
            if names_drive(given.value):
                draft.strobe = "row"
            named = note_heading(given, word, draft.rows[place], into) or named or _worded_side(word, draft, "row")
    return named


def _worded_side(word: str, draft: MatrixDraft, side: str) -> str:
    """Return the side that a word for it names.

    Strobe and return say which side is driven, not which way round the chart is drawn.
    """
    if names_drive(word):
        draft.strobe = side
        return ""
    return "" if names_sense(word) else side_of(word) or ""


def _corner_words(heads: Sequence[Row], columns: list[int]) -> dict[int, str]:
    """Return the words over the columns at the left: from rows that head nothing else, or have several words."""
    words: dict[int, str] = {}
    for row in heads:
        here = {column: row[column] for column in row.filled if column < columns[0] and heading_of(row[column])}
        if len(here) > 1 or not any(row[column] for column in columns):
            words |= here
    return words


def _note_crossings(
    block: Block, body: Sequence[Row], columns: list[int], draft: MatrixDraft, into: Understood
) -> None:
    entries = {
        (place, across): Given(row[column], block.spot(row, column))
        for place, row in enumerate(body)
        for across, column in enumerate(columns)
        if row[column]
    }
    read = {place: numbered(given.value) for place, given in entries.items()}
    with_number = [one for one in read.values() if one.number is not None]
    has_numbers = 0 < len(with_number) >= 0.6 * sum(not is_unused(given.value) for given in entries.values())
    has_names = any(one.name for one in with_number) or not has_numbers
    seen: dict[Number, Spot] = {}
    for place, given in entries.items():
        number, name = read[place] if has_numbers else (None, " ".join(given.value.split()))
        if not has_numbers and is_unused(name):
            continue
        cell = draft.cells[place] = CellDraft(number=number, spot=given.spot)
        if number is not None and seen.setdefault(number, given.spot) != given.spot:
            raise InputError(
                f"{given.spot}: {number} stands here and at {seen[number].within}", "give each crossing its own number"
            )
        if name:
            add(cell.facts, "name", name, given.spot)
            if has_numbers and number is None and not is_unused(given.value):
                into.guessed.append(Note(given.spot, _without_number(name, given.value)))
        elif not has_names and number is not None:
            cell.stand_in = f"{draft.kind or 'device'} {number}"


def _without_number(name: str, printed: str) -> str:
    if name != " ".join(printed.split()):
        return f"{shown(printed)}: 0 is no number of a device here; {shown(name)} is read as its name"
    return f"{shown(name)} has no number beside it: read as a name"


def _turned(draft: MatrixDraft) -> MatrixDraft:
    """Return the matrix of a chart that prints rows along the top: rows as rows."""
    draft.columns, draft.rows = draft.rows, draft.columns
    draft.cells = {(row, column): cell for (column, row), cell in draft.cells.items()}
    draft.strobe = {"row": "column", "column": "row"}.get(draft.strobe, "")
    return draft


def kind_of_block(block: Block) -> Kind | None:
    """Return the kind of matrix that the text above a chart speaks of, or the name of its sheet."""
    texts = [text for _, text in block.titles]
    head = block.rows[0].entries
    texts += filter(None, head if block.shape == "list" else head[:1])
    return next((kind for text in [*texts, block.sheet] if (kind := kind_in(text))), None)
