"""Whole lines, plugs and pairs of lines of the shipped layouts, dead, stuck or both, marked in a job as it is typed:
the answer is sound."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator, Mapping
from itertools import combinations
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.layout.designators import CONNECTORS
from matrixcheck.layout.files import read_layout, shipped
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import LineKey
from tests.samples import some_of
from tests.unit.soundness import flaws_of

LAYOUTS = {name: read_layout(path) for name, path in shipped().items()}
MANNERS = {"dead": "--", "stuck": "**", "both": "-*"}
CAP = 0.05
"""Seconds for an answer: so short that searches are cut off as well. What is asked here must hold at any moment."""
EVERY, BATCHES = 10, 4
PAIRS = None if os.environ.get("EVERY_PAIR") else 200
"""How many pairs of lines of a layout the long run goes through, drawn by a fixed seed; None for all there are."""


def lines_of(layout: Layout) -> list[LineKey]:
    return [line for matrix in layout.matrices for line in matrix.lines if matrix.cells_of(line)]


def pairs_of(layout: Layout) -> list[tuple[LineKey, LineKey]]:
    pairs = list(combinations(lines_of(layout), 2))
    return pairs if PAIRS is None or len(pairs) <= PAIRS else random.Random(layout.name).sample(pairs, PAIRS)


def plugs_of(layout: Layout) -> dict[str, tuple[LineKey, ...]]:
    return {
        ref: lines
        for ref, lines in layout.lines_through.items()
        if "-" not in ref and ref.rstrip("0123456789") in CONNECTORS
    }


def typed(layout: Layout, lines: tuple[LineKey, ...], signs: str) -> Iterator[tuple[str, str]]:
    """Matrix and entry for each line, its cells marked by these signs in turn."""
    for at, line in enumerate(lines):
        if len(lines) > 1 or signs[0] == signs[1]:
            yield line.matrix, f"{line.address}{signs[at % 2]}"
        else:
            cells = layout.matrix(line.matrix).cells_of(line)
            yield line.matrix, " ".join(f"{cell.key.address}{signs[n % 2]}" for n, cell in enumerate(cells))


def flaws_by_case(
    book: Path, layout: Layout, cases: Mapping[str, tuple[LineKey, ...]], *, by_turns: bool = False
) -> dict[str, list[str]]:
    """What is wrong with the answer of each case, in every manner or in one of them by turns; empty where all are
    sound."""
    bench = Bench(book)
    found = {}
    for turn, (name, lines) in enumerate(cases.items()):
        for manner, signs in list(MANNERS.items())[turn % 3 if by_turns else 0 :: 3 if by_turns else 1]:
            job = bench.new_job(layout, "invented job")
            for matrix, text in typed(layout, lines, signs):
                bench.mark(job, matrix, text)
            flaws = flaws_of(bench.diagnosis(job, CAP), bench.state(job).current)
            if flaws:
                found[f"{name} {manner}"] = flaws
    bench.close()
    return found


@pytest.mark.parametrize("name", some_of(LAYOUTS, 2))
@pytest.mark.slow
def test_the_answer_is_sound_for_lines_and_plugs(name: str, tmp_path: Path) -> None:
    """Every plug, and each tenth line, in one manner each; all lines and manners in the long run."""
    layout = LAYOUTS[name]
    cases = plugs_of(layout) | {str(line): (line,) for line in lines_of(layout)[::EVERY]}
    assert flaws_by_case(tmp_path / "jobs.book", layout, cases, by_turns=True) == {}


@pytest.mark.slow
@pytest.mark.parametrize("name", LAYOUTS)
def test_the_answer_is_sound_for_every_line_and_plug(name: str, tmp_path: Path) -> None:
    layout = LAYOUTS[name]
    cases = plugs_of(layout) | {str(line): (line,) for line in lines_of(layout)}
    assert flaws_by_case(tmp_path / "jobs.book", layout, cases) == {}


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(BATCHES))
@pytest.mark.parametrize("name", LAYOUTS)
def test_the_answer_is_sound_for_pairs_of_lines(name: str, batch: int, tmp_path: Path) -> None:
    """A seeded sample of the pairs, in one manner each; all in each, up to an hour of CPU, with EVERY_PAIR=1 in the
    environment."""
    layout = LAYOUTS[name]
    cases = {" and ".join(map(str, pair)): pair for pair in pairs_of(layout)[batch::BATCHES]}
    assert flaws_by_case(tmp_path / "jobs.book", layout, cases, by_turns=PAIRS is not None) == {}
