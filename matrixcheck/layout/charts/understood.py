"""What was understood of charts, for the person who gave them: grids, counts, guesses, what was left over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from matrixcheck.layout.charts.drafts import MatrixDraft, Note
from matrixcheck.layout.charts.grid_text import drawn
from matrixcheck.layout.charts.importing import Imported
from matrixcheck.layout.charts.questions import Guess
from matrixcheck.layout.problems import shown, visible
from matrixcheck.layout.raw import Table


def understood_lines(imported: Imported, width: int) -> Iterator[str]:
    """Yield what was understood, a matrix after the other, then guesses and what was left over."""
    data, decided = imported.decided.data, imported.decided
    yield shown(data["name"])
    for draft, table in zip(decided.drafts, data["matrix"], strict=True):
        yield ""
        yield from _matrix_lines(draft, table, width)
    if data.get("part"):
        yield ""
        yield f"{_count(len(data['part']), 'part')} with a name, from lists or from what runs through them"
    others = [given for given in decided.titles if given.value != data["name"]]
    if others:
        yield ""
        yield "Text beside the charts, not in the layout:"
        yield from (f"  {given.spot}: {visible(given.value)}" for given in others)
    yield from _guess_lines(imported.guesses, decided.guessed)
    if decided.left_over:
        yield ""
        yield "Left out of the layout:"
        yield from (f"  {line}" for line in _gathered(decided.left_over))
    for title, found in (
        ("Fix these before you use the layout:", imported.problems),
        ("Allowed, but probably a mistake:", imported.warnings),
    ):
        if found:
            yield ""
            yield title
            yield from (f"  {problem}" + (f" (from {spot})" if spot else "") for problem, spot in found)


def _gathered(notes: Sequence[Note]) -> Iterator[str]:
    """Yield notes in their order, the same of several rows below one another in one line."""
    runs: list[list[Note]] = []
    for note in notes:
        last = runs[-1][-1] if runs else None
        if last and (note.text, note.spot) == (last.text, last.spot._replace(row=last.spot.row + 1)):
            runs[-1].append(note)
        else:
            runs.append([note])
    for run in runs:
        spot, more = run[0].spot, len(run) - 1
        place = str(spot) if not more else str(spot).replace(f"row {spot.row}", f"rows {spot.row} to {spot.row + more}")
        yield f"{place}: {run[0].text}"


def _matrix_lines(draft: MatrixDraft, table: Table, width: int) -> Iterator[str]:
    rows, columns = len(table["cells"]), len(table["cells"][0])
    devices = sum(bool(name) for row in table["cells"] for name in row)
    yield f"{table['id']}: {draft.shape}, from {draft.spot}"
    sizes = f"{_count(columns, 'column')}, {_count(rows, 'row')}, {_count(devices, table['kind'])}"
    yield f"  {sizes}, numbers {table['numbering']}"
    counts = ", ".join(_line_counts(table))
    if counts:
        yield f"  {counts}"
    yield from (f"  {line}".rstrip() for line in drawn(_grid(draft, table), 1, width - 2))


def _line_counts(table: Table) -> Iterator[str]:
    lines = [line for side in ("column", "row") for line in table.get(side, [])]
    refs = [ref for line in lines for ref in line.get("path", [])]
    found = {
        "wire colour": sum("wire" in line for line in lines),
        "chip contact": sum(ref[0] == "U" for ref in refs),
        "driver": sum(ref[0] == "Q" for ref in refs),
        "plug contact": sum(ref[0] in "XJP" for ref in refs),
        "fuse": len({ref for line in lines for ref in line.get("supply", []) if ref[0] == "F"}),
    }
    return (_count(count, word) for word, count in found.items() if count)


def _grid(draft: MatrixDraft, table: Table) -> list[list[str]]:
    labels = {side: [_head(line) for line in _lines(draft, table, side)] for side in ("column", "row")}
    rows = [["", *labels["column"]]]
    for row, names in enumerate(table["cells"]):
        rows.append([labels["row"][row], *(_entry(draft, row, column, name) for column, name in enumerate(names))])
    return rows


def _lines(draft: MatrixDraft, table: Table, side: str) -> list[Table]:
    labels = ({"label": line.label or str(place)} for place, line in enumerate(draft.lines(side), 1))
    return table.get(side) or list(labels)


def _head(line: Table) -> str:
    """Return what heads a line: its label, wire and parts below one another."""
    relay = f"{line['select']} {line['when']}" if "select" in line else ""
    parts = " ".join([*line.get("path", []), *line.get("supply", [])])
    return "\n".join(filter(None, [line["label"], line.get("name", ""), line.get("wire", ""), parts, relay]))


def _entry(draft: MatrixDraft, row: int, column: int, name: str) -> str:
    cell = draft.cells.get((row, column))
    number = "" if cell is None or cell.number is None else f"{cell.number} "
    return f"{number}{name}".strip() if name else "-"


def _guess_lines(guesses: Sequence[Guess], notes: Sequence[Note]) -> Iterator[str]:
    if not guesses and not notes:
        return
    yield ""
    yield "Guessed; --take KEY=VALUE says it otherwise:"
    for question, answer in guesses:
        taken = shown(answer) if answer else "left out"
        yield f"  {question.text} -> {taken} (--take {question.key}=...)"
    yield from (f"  {note}" for note in notes)


def _count(count: int, word: str) -> str:
    plural = f"{word}es" if word.endswith("ch") else f"{word}s"
    return f"{count} {word if count == 1 else plural}"
