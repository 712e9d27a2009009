"""The program in a real pseudo-terminal: a round typed at twenty keys a second, and two programs on one job at once."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pilots import NOON, CannedBench
from terminals import Terminal

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark


@pytest.fixture
def terminals(bench: CannedBench, job: str) -> Iterator[list[Terminal]]:
    """Two programs on the same job."""
    bench.close()
    running = [Terminal(bench.path, job) for _ in range(2)]
    yield running
    for terminal in running:
        terminal.kill()


@pytest.mark.parametrize(
    ("matrix", "cells"),
    [("inputs", 6), pytest.param("switches", 60, marks=pytest.mark.slow)],
)
def test_a_round_typed_at_twenty_keys_a_second_is_in_the_journal_to_the_last_mark(
    terminals: list[Terminal], bench: CannedBench, job: str, matrix: str, cells: int
) -> None:
    typed, other = terminals
    typed.wait_for("number and Enter")
    other.wait_for("number and Enter")
    layout = bench.state(job).layout
    typed.type("\t" * [each.id for each in layout.matrices].index(matrix))
    typed.type("g")
    typed.wait_for("Before you start")
    typed.type("1")
    typed.wait_for("left to test")
    numbers = [cell.number for cell in layout.matrix(matrix).fitted]
    typed.type("".join(f"{number}\r" for number in numbers))
    typed.wait_for("None left to test")
    reader = Bench(bench.path, clock=lambda: NOON)
    standings = reader.state(job).standings
    assert all(standings[cell.key].mark is Mark.WORKING for cell in layout.matrix(matrix).fitted)
    assert len(reader.state(job).current) == len(numbers)
    other.wait_for(f"{matrix} {cells}")
    typed.type("\x1b")
    typed.wait_for(" suspects")
    typed.type("q")
    other.type("q")
    assert [typed.close(), other.close()] == [0, 0]


def test_what_is_typed_while_the_program_starts_is_not_lost(bench: CannedBench, job: str) -> None:
    bench.close()
    early = Terminal(bench.path, job)
    try:
        early.type("24-")
        early.wait_for("Enter keeps 24 right outlane: dead")
        early.type("\r")
        early.wait_for("kept: 24")
    finally:
        early.kill()
    standings = Bench(bench.path, clock=lambda: NOON).state(job).standings
    assert [one.cell.number for one in standings.values() if one.mark is Mark.DEAD] == [24]


@pytest.mark.slow
@pytest.mark.parametrize("each", [30])
def test_two_programs_marking_one_job_at_once_lose_nothing(
    terminals: list[Terminal], bench: CannedBench, job: str, each: int
) -> None:
    for terminal in terminals:
        terminal.wait_for("number and Enter")
    numbers = [cell.number for cell in bench.state(job).layout.matrix("switches").fitted]
    halves = numbers[:each], numbers[30 : 30 + each]
    for first, second in zip(*halves, strict=True):
        for terminal, number, sign in ((terminals[0], first, "-"), (terminals[1], second, "*")):
            terminal.type(f"{number}{sign}\r")
    for terminal in terminals:
        terminal.wait_for(f"switches {2 * each}")
    reader = Bench(bench.path, clock=lambda: NOON)
    coverage = reader.status(job)["switches"]
    assert (coverage.dead, coverage.stuck) == (each, each)
    assert reader.verify() == 1 + 2 * each
    for terminal in terminals:
        terminal.type("q")
    assert [terminal.close() for terminal in terminals] == [0, 0]
