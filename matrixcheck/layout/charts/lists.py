"""A list as a manual prints it: one device, string or part a line, under any usual headings in any order."""

from __future__ import annotations

import re
from collections.abc import Sequence

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.blocks import Block, Row
from matrixcheck.layout.charts.drafts import Entry, Given, Listing, Note, Understood
from matrixcheck.layout.charts.values import numbered
from matrixcheck.layout.charts.words import CROSSING, Heading, heading_of, is_unused
from matrixcheck.layout.model import Kind
from matrixcheck.layout.problems import shown, visible

_DITTO = frozenset({'"', "''", "``", "do", "do.", "dito", "idem"})
_MERGED = frozenset({"column", "row", "side"})
"""Fields that are printed once for several lines below one another."""
_UNUSED_KEPT = frozenset({"name", "number", "column", "row"})


def read_list(block: Block, chart: int, kind: Kind | None, into: Understood) -> None:
    """Note what the lines of a list say. Raises InputError, with the place, for an entry under no heading."""
    head, body = block.rows[0], block.rows[1:]
    folds = _folds(head)
    headings = _headings(block, head, body, into, folds)
    entries: list[list[Entry]] = [[] for _ in folds]
    above: dict[int, str] = {}
    for row in body:
        if _is_footnote(row, headings):
            into.left_over.append(Note(block.spot(row, 0), f"{shown(row[0])}, below the list"))
            continue
        found: list[dict[tuple[str, str], Given]] = [{} for _ in folds]
        for column in row.filled:
            if column not in headings:
                if column >= len(head.entries) or not head[column]:
                    raise InputError(
                        f"{block.spot(row, column)}: {shown(row[column])} stands under no heading",
                        "head its column, or take it out",
                    )
                continue
            text = above.get(column, "") if row[column].casefold() in _DITTO else " ".join(row[column].split())
            above[column] = text
            heading = headings[column]
            if text and (heading.field in _UNUSED_KEPT or not is_unused(text)):
                found[_fold_of(column, folds)][heading.field, heading.of] = Given(text, block.spot(row, column))
        for column, heading in headings.items():
            if heading.field in _MERGED and not row[column] and above.get(column):
                facts = found[_fold_of(column, folds)]
                facts[heading.field, heading.of] = Given(above[column], block.spot(row, column))
                into.guessed.append(
                    Note(block.spot(row, column), f"an empty {heading.field} is read as the one above, {above[column]}")
                )
        for members, facts in zip(entries, found, strict=True):
            if facts or len(folds) == 1:
                members.append(Entry(block.spot(row), facts))
    if not any(entries):
        raise InputError(f"{block.spot(head)}: headings of a list, and no line below them", "give the whole list")
    all_entries = [one for part in entries for one in part]
    fields = _fields(headings, all_entries)
    title = " ".join(text for _, text in block.titles)
    into.lists.append(Listing(kind, chart, block.spot(head), title, fields, all_entries))


def _fields(headings: dict[int, Heading], entries: Sequence[Entry]) -> frozenset[tuple[str, str]]:
    """Return the fields of a list; what stands under a heading of both sides is parted into these."""
    fields = frozenset((heading.field, heading.of) for heading in headings.values())
    if all(field != CROSSING for field, _ in fields):
        return fields
    for entry in entries:
        _part_crossing(entry)
    return fields | {("column", ""), ("row", "")}


def _part_crossing(entry: Entry) -> None:
    """Part what stands under a heading of both sides into column and row: `3/7`, `C3 R7`."""
    for first, second in (("column", "row"), ("row", "column")):
        given = entry.facts.get((CROSSING, first))
        if given is None:
            continue
        both = re.findall(r"\d+|(?<![A-Za-z])[A-Za-z](?![A-Za-z0-9])", given.value)
        own = {word[0].casefold(): label for word, label in re.findall(r"\b(c|r)[a-z]*[. ]?(\d+)", given.value, re.I)}
        labels = dict(zip((first, second), both, strict=False)) | {
            side: own[side[0]] for side in ("column", "row") if len(own) == 2
        }
        if len(both) == 2:
            del entry.facts[CROSSING, first]
            for side, label in labels.items():
                entry.facts.setdefault((side, ""), Given(label, given.spot))


def _folds(head: Row) -> list[int]:
    """Return the columns at which the headings begin anew: a long list is printed in several parts side by side."""
    said = [head[column].casefold() for column in head.filled]
    for count in range(len(said) // 2, 1, -1):
        if len(said) % count == 0 and said == said[:count] * (len(said) // count):
            return head.filled[::count]
    return [0]


def _fold_of(column: int, folds: Sequence[int]) -> int:
    return max((place for place, start in enumerate(folds) if start <= column), default=0)


def _headings(
    block: Block, head: Row, body: Sequence[Row], into: Understood, folds: Sequence[int]
) -> dict[int, Heading]:
    """Return what stands in each column; one that isn't understood is named as left over."""
    found: dict[int, Heading] = {}
    taken: set[Heading] = set()
    for column in head.filled:
        if column in folds:
            taken = set()
        heading = heading_of(head[column])
        if heading and heading.field == "device":
            heading = _of_device(head, [row[column] for row in body if row[column]])
        elif heading and heading.field == "type" and not _has(head, "name"):
            heading = Heading("name")
        if heading is None or heading in taken:
            why = "stands over two columns" if heading in taken else "is no heading that is known here"
            entries = ", ".join(row[column] for row in body if row[column] and not is_unused(row[column]))
            what = f"left out: {visible(entries)}" if entries else "nothing stands below it"
            into.left_over.append(Note(block.spot(head, column), f"{shown(head[column])} {why}; {what}"))
            continue
        taken.add(heading)
        found[column] = heading
    return found


def _of_device(head: Row, entries: Sequence[str]) -> Heading:
    """Return what "Switch", "Lamp", "Sol." stands over: numbers where these have no column of their own, else names."""
    if not _has(head, "number") and sum(numbered(entry).number is not None for entry in entries) * 2 > len(entries):
        return Heading("number")
    return Heading("type" if _has(head, "name") else "name")


def _has(head: Row, field: str) -> bool:
    return any((heading := heading_of(head[column])) is not None and heading.field == field for column in head.filled)


def _is_footnote(row: Row, headings: dict[int, Heading]) -> bool:
    return row.filled == [0] and len(headings) > 2 and " " in row[0]
