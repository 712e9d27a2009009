"""Charts in, a layout out: read, understood, every open question answered, written and checked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.blocks import Block, blocks_of
from matrixcheck.layout.charts.deciding import Decided, decide
from matrixcheck.layout.charts.drafts import Given, Note, Understood
from matrixcheck.layout.charts.exported import read_exported
from matrixcheck.layout.charts.grids import kind_of_block, read_grid
from matrixcheck.layout.charts.kinds import asked_kind
from matrixcheck.layout.charts.lists import read_list
from matrixcheck.layout.charts.merging import merged
from matrixcheck.layout.charts.printed import MACHINE
from matrixcheck.layout.charts.questions import Answers, Guess
from matrixcheck.layout.charts.sheets import Sheet
from matrixcheck.layout.charts.spots import Spot
from matrixcheck.layout.charts.writing import layout_text
from matrixcheck.layout.files import WHAT, flaws_in
from matrixcheck.layout.problems import Loc, Problem, shown
from matrixcheck.layout.schema import NAME
from matrixcheck.layout.suspicions import warning_flaws
from matrixcheck.layout.toml_file import toml_in


class Imported(NamedTuple):
    """A layout made of charts.

    `problems` and `warnings` are those that `layout check` would find in `text`, with the places of the charts.
    """

    text: str
    decided: Decided
    guesses: tuple[Guess, ...]
    problems: tuple[tuple[Problem, Spot | None], ...]
    warnings: tuple[tuple[Problem, Spot | None], ...]


def import_charts(sheets: Sequence[Sheet], name: str | None, answers: Answers, target: str) -> Imported:
    """Return the layout that charts give together; `target` is what messages call the file that it is for.

    Raises InputError, with the chart's row and column, for a chart that can't be taken; UsageError for an answer to
    what isn't asked.
    """
    understood = Understood()
    blocks = [block for sheet in sheets for block in blocks_of(sheet)]
    charts = [block for block in blocks if block.shape != "none"]
    for block in blocks:
        understood.titles += [Given(text, spot) for spot, text in _title(block)]
        understood.machine = understood.machine or block.facts.get(MACHINE)
        if block.shape == "none":
            _leave_over(block, understood)
    if not charts:
        names = ", ".join(dict.fromkeys(sheet.name for sheet in sheets))
        raise InputError(
            f"{names}: no grid and no list found", "head the columns and rows of a grid, or the columns of a list"
        )
    for count, block in enumerate(charts, 1):
        _read(block, count, answers, understood)
    drafts = merged(understood, answers)
    decided = decide(understood, drafts, name, answers)
    answers.refuse_unasked()
    about = [f":schema ./{NAME}", " Made from " + ", ".join(dict.fromkeys(sheet.name for sheet in sheets)) + "."]
    text = layout_text(decided.data, about)
    found = tuple(_problems(text, decided, target))
    problems, warnings = (
        tuple(one for one in found if one[0].severity == severity) for severity in ("error", "warning")
    )
    return Imported(text, decided, tuple(answers.guesses), problems, warnings)


def _read(block: Block, count: int, answers: Answers, understood: Understood) -> None:
    kind = kind_of_block(block)
    if block.shape == "exported":
        read_exported(block, count, understood)
        return
    if block.shape == "list":
        read_list(block, count, kind, understood)
        return
    read_grid(block, count, kind or asked_kind(block.sheet, count, answers), understood)


def _title(block: Block) -> Iterator[tuple[Spot, str]]:
    """Yield the text above a chart, a row in one."""
    rows: dict[int, list[tuple[Spot, str]]] = {}
    for spot, text in block.titles:
        rows.setdefault(spot.row, []).append((spot, text))
    for row in rows.values():
        yield row[0][0], " ".join(text for _, text in row)


def _leave_over(block: Block, understood: Understood) -> None:
    for row in block.rows:
        for column in row.filled:
            spot = block.spot(row, column)
            understood.left_over.append(Note(spot, f"{shown(row[column])} belongs to no grid and no list"))


def _problems(text: str, decided: Decided, target: str) -> Iterator[tuple[Problem, Spot | None]]:
    file = toml_in(text.encode(), target, WHAT)
    if isinstance(file, Problem):
        yield file, None
        return
    flaws = [*flaws_in(file.content), *warning_flaws(file.content)]
    for flaw, problem in zip(flaws, file.problems(flaws, target), strict=True):
        yield problem, _spot(flaw.loc, decided)


def _spot(loc: Loc, decided: Decided) -> Spot | None:
    """Return the place of a chart that a place of the layout, or what is around it, came from."""
    around = (loc[:depth] for depth in range(len(loc), 0, -1))
    return next((decided.spots[place] for place in around if place in decided.spots), None)
