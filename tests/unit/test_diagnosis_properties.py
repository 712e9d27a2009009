"""What must hold of the diagnosis whatever was read: an oracle that enumerates everything, and properties that no
reading may break."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import exp, inf, log, log1p, prod

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence.noise import NEVER, Seen, log_table
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.inference.beam.solution import solve
from matrixcheck.diagnosis.inference.work import Work
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates
from matrixcheck.diagnosis.machine.fault_classes import IN_DEVICES
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass
from matrixcheck.layout.form import layout_in
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.unit.posed_problem import posed

Place = tuple[int, int]
calm = settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])


def bank(kind: str, rows: int, columns: int) -> Layout:
    """Numbered down the columns, each line's chain in that order."""
    numbers = [[c * rows + r + 1 for c in range(columns)] for r in range(rows)]
    matrix = {
        "id": "m",
        "kind": kind,
        "numbering": "down-columns",
        "cells": [[f"cell {number}" for number in row] for row in numbers],
        "column": [
            {"path": [f"Q{c + 1}", f"X1-{c + 1}"], "chain": [row[c] for row in numbers]} for c in range(columns)
        ],
        "row": [{"chain": row} for row in numbers],
    }
    return layout_in({"format": 1, "name": "small", "matrix": [matrix]})


def exercises(layout: Layout, held: tuple[CellKey, ...] = ()) -> list[Reading]:
    cells = [cell.key for cell in layout.matrices[0].fitted]
    return [Reading(matrix="m", cell=cell, held=tuple(key for key in held if key != cell)) for cell in (None, *cells)]


# ---------- An oracle that enumerates every state of every cell ----------

SHARED = (FaultClass.OPEN, FaultClass.GROUNDED)


def log_likelihood(layout: Layout, readings: Sequence[Reading], faults: Sequence[Fault]) -> float:
    """log P(readings | faults), place by place, from what `predict` shows and the table of noise."""
    matrix, rates = layout.matrices[0], shipped_rates().reading
    if matrix.kind == "switch":
        rates = rates._replace(false_glow=NEVER, glow_taken_for_light=NEVER)
    table = log_table(rates)
    total = 0.0
    for reading, shown in zip(readings, predict(layout, faults, readings), strict=True):
        for cell in matrix.fitted:
            unlit = Seen.FAINT if cell.key in reading.faint else Seen.DARK
            seen = Seen.LIT if cell.key in (reading.answered or ()) else unlit
            due = 2 if cell.key in (shown.answered or ()) else 1 if cell.key in shown.faint else 0
            total += table[int(cell.key == reading.cell), due, seen]
    return total


def by_enumeration(
    layout: Layout, readings: Sequence[Reading], pool: Sequence[Candidate]
) -> dict[frozenset[int], float]:
    """P(shared faults | readings): every set of shared faults with every cell in order, dead or stuck by itself."""
    shared = [one for one in pool if one.fault_class not in IN_DEVICES]
    rate = {one.fault_class: one.rate for one in pool if one.fault_class in IN_DEVICES}
    own = {None: 1 - sum(rate.values()), **rate}
    cells = [cell.key for cell in layout.matrices[0].fitted]
    weights = {}
    for chosen in product((0, 1), repeat=len(shared)):
        there = [one.fault for one, bit in zip(shared, chosen, strict=True) if bit]
        prior = sum(log(one.rate) if bit else log1p(-one.rate) for one, bit in zip(shared, chosen, strict=True))
        weights[frozenset(i for i, bit in enumerate(chosen) if bit)] = sum(
            exp(prior + log_likelihood(layout, readings, [*there, *_private(cells, states)]))
            * prod(own[state] for state in states)
            for states in product(own, repeat=len(cells))
        )
    total = sum(weights.values())
    return {faults: weight / total for faults, weight in weights.items()}


def _private(cells: Sequence[CellKey], states: Sequence[FaultClass | None]) -> list[Fault]:
    return [Fault(fault=state, cells=(cell,)) for cell, state in zip(cells, states, strict=True) if state]


@pytest.mark.parametrize("kind", ["switch", "lamp"])
@pytest.mark.parametrize("spoil", ["nothing", "an echo", "a dead cell", "a stuck cell"])
def test_sets_of_faults_have_the_probability_that_enumeration_gives(kind: str, spoil: str) -> None:
    """Answered sets and a rest scan of a 2x2 bank; each place hangs on one cell's private causes, so that summing them
    out is exact. Both lines of the column side, open, with every cell dead, stuck or in order: within 1e-9."""
    layout, rates = bank(kind, 2, 2), shipped_rates()
    pool = [
        one
        for one in candidates(layout, rates)
        if one.fault_class in IN_DEVICES
        or (one.fault_class is FaultClass.OPEN and one.part is None and one.lines[0].side == "column")
    ]
    shared = [one for one in pool if one.fault_class not in IN_DEVICES]
    readings = list(predict(layout, [shared[0].fault], exercises(layout)))
    readings = spoiled(readings, spoil)
    problem = posed(layout, readings, rates, pool)
    posterior = solve(problem, Work(inf)).posterior
    number = {one.lines: index for index, one in enumerate(shared)}
    ours: dict[frozenset[int], float] = {}
    for scored, probability in zip(posterior.sets, posterior.probabilities, strict=True):
        named = frozenset(number[problem.items[index].lead.lines] for index in scored.faults)
        ours[named] = ours.get(named, 0.0) + probability
    exact = by_enumeration(layout, readings, pool)
    searched = {faults for faults in exact if faults in ours}
    assert frozenset({0}) in searched
    left_out = sum(exact[faults] for faults in exact if faults not in searched)
    assert left_out < 1e-5  # lines that nothing speaks against are not searched
    for faults in searched:
        assert ours[faults] == pytest.approx(exact[faults] / (1 - left_out), abs=1e-9, rel=0)


def spoiled(readings: list[Reading], how: str) -> list[Reading]:
    """The readings with something else in them."""
    odd = CellKey("m", 1, 2)
    if how == "nothing":
        return readings
    if how == "an echo":
        first = readings[1]
        return [readings[0], replace(first, answered=(*(first.answered or ()), odd)), *readings[2:]]
    found = []
    for reading in readings:
        answered = set(reading.answered or ())
        answered = answered - {odd} if how == "a dead cell" else answered | {odd}
        found.append(replace(reading, answered=tuple(sorted(answered))))
    return found


# ---------- Properties ----------

marks = st.dictionaries(st.tuples(st.integers(1, 4), st.integers(1, 4)), st.booleans(), min_size=1)
ways = st.sampled_from(["marks alone", "answered sets"])


def readings_of(seen: dict[Place, bool], way: str) -> list[Reading]:
    """One reading a tested cell: True is dead."""
    found = []
    for place, dead in sorted(seen.items()):
        cell = CellKey("m", *place)
        if way == "marks alone":
            found.append(Reading(matrix="m", cell=cell, mark=Mark.DEAD if dead else Mark.WORKING))
        else:
            found.append(Reading(matrix="m", cell=cell, answered=() if dead else (cell,)))
    return found


def odds_of_one(layout: Layout, readings: Sequence[Reading], candidate: Candidate) -> float:
    """Log odds of this one shared fault against no shared fault, where one at most is allowed."""
    rates = shipped_rates()
    pool = candidates(layout, rates)
    problem = posed(layout, readings, rates, pool)
    likely = [
        sum(fit.log(private) for fit, private in zip(fits, problem.private, strict=True))
        for fits in (problem.fits([candidate]), problem.healthy)
    ]
    return likely[0] - likely[1] + log(candidate.rate) - log1p(-candidate.rate)


BANK = bank("lamp", 4, 4)
KILLS = [
    one
    for one in candidates(BANK)
    if one.fault_class in (FaultClass.OPEN, FaultClass.UNPLUGGED, FaultClass.BREAK) and len(one.cells) > 1
]


@calm
@given(marks, st.sampled_from(KILLS), st.randoms(use_true_random=False), ways)
def test_a_working_mark_never_raises_the_odds_of_one_fault_that_would_kill_the_cell(
    seen: dict[Place, bool],
    suspect: Candidate,
    random,
    way: str,  # type: ignore[no-untyped-def]
) -> None:
    """Against "no shared fault", with one fault at most allowed."""
    cell = random.choice(suspect.cells)
    before = {place: dead for place, dead in seen.items() if place != (cell.row, cell.column)}
    after = before | {(cell.row, cell.column): False}
    if before:
        assert (
            odds_of_one(BANK, readings_of(after, way), suspect)
            <= odds_of_one(BANK, readings_of(before, way), suspect) + 1e-9
        )


@calm
@given(marks, st.sampled_from(KILLS), ways)
def test_untested_cells_never_clear_a_part(seen: dict[Place, bool], suspect: Candidate, way: str) -> None:
    """A fault none of whose cells was tested keeps its odds; a reading that was never made never lowers them."""
    reached = {(cell.row, cell.column) for cell in suspect.cells}
    elsewhere = {place: dead for place, dead in seen.items() if place not in reached}
    if elsewhere and way == "marks alone":
        prior = log(suspect.rate) - log1p(-suspect.rate)
        assert odds_of_one(BANK, readings_of(elsewhere, way), suspect) == pytest.approx(prior, rel=0, abs=1e-9)
    for place in sorted(reached & set(seen)):
        fewer = {other: dead for other, dead in seen.items() if other != place}
        if fewer and not seen[place]:
            less, more = (odds_of_one(BANK, readings_of(each, way), suspect) for each in (fewer, seen))
            assert less >= more - 1e-9


def named(found: Diagnosis, rows: Sequence[int], columns: Sequence[int]) -> list[tuple[float, object]]:
    """The explanations with their places renamed, in an order of their own."""

    def place(key) -> object:  # type: ignore[no-untyped-def]
        if isinstance(key, CellKey):
            return rows[key.row - 1], columns[key.column - 1]
        return key.side, (rows if key.side == "row" else columns)[key.place - 1]

    def fault(member: Fault) -> object:
        lines = frozenset(map(place, member.lines))
        return member.fault, frozenset(map(place, member.cells)), lines, part(member, columns), member.when

    groups = {each.id: frozenset(map(fault, each.members)) for each in found.suspects}
    return [(each.probability, frozenset(groups[name] for name in each.suspects)) for each in found.explanations]


def part(member: Fault, columns: Sequence[int]) -> str | None:
    """`Q2` and `X1-2` are renamed with their column; the plug stays."""
    head, digit = (member.part or "")[:-1], (member.part or "")[-1:]
    return f"{head}{columns[int(digit) - 1]}" if head in ("Q", "X1-") else member.part


@calm
@given(
    st.permutations((1, 2, 3)),
    st.permutations((1, 2, 3)),
    st.sampled_from(range(len(candidates(bank("switch", 3, 3))))),
    st.sampled_from(["nothing", "an echo", "a dead cell", "a stuck cell"]),
    ways,
)
def test_relabelling_rows_and_columns_changes_nothing_but_names(
    rows: list[int], columns: list[int], which: int, spoil: str, way: str
) -> None:
    """The same machine wired to other numbers, chains given to match: the same explanations, as likely, by their new
    names."""
    plain, moved = bank("switch", 3, 3), relabelled(rows, columns)
    fault = candidates(plain)[which].fault
    readings = spoiled(list(predict(plain, [fault], exercises(plain))), spoil)
    if way == "marks alone":
        readings = [
            Reading(matrix="m", cell=each.cell, mark=Mark.WORKING if each.cell in (each.answered or ()) else Mark.DEAD)
            for each in readings
            if each.cell
        ]

    def moved_cell(cell: CellKey) -> CellKey:
        return CellKey("m", rows[cell.row - 1], columns[cell.column - 1])

    there = [
        replace(
            each,
            cell=each.cell and moved_cell(each.cell),
            answered=None if each.answered is None else tuple(sorted(map(moved_cell, each.answered))),
        )
        for each in readings
    ]
    first = named(diagnose(plain, readings), rows, columns)
    second = named(diagnose(moved, there), (1, 2, 3), (1, 2, 3))
    assert [each[0] for each in first] == pytest.approx([each[0] for each in second], rel=0, abs=1e-6)
    if len(first) == 1 or first[0][0] > first[1][0] + 1e-6:
        assert first[0][1] == second[0][1]


def relabelled(rows: Sequence[int], columns: Sequence[int]) -> Layout:
    """The 3x3 bank with row r at `rows[r - 1]` and column c at `columns[c - 1]`, its chains still through the same
    cells in the same order."""
    row_chains = {rows[r]: [(columns[c] - 1) * 3 + rows[r] for c in range(3)] for r in range(3)}
    column_chains = {columns[c]: [(columns[c] - 1) * 3 + rows[r] for r in range(3)] for c in range(3)}
    matrix = {
        "id": "m",
        "kind": "switch",
        "numbering": "down-columns",
        "cells": [[f"cell {c * 3 + r + 1}" for c in range(3)] for r in range(3)],
        "column": [{"path": [f"Q{c}", f"X1-{c}"], "chain": column_chains[c]} for c in (1, 2, 3)],
        "row": [{"chain": row_chains[r]} for r in (1, 2, 3)],
    }
    return layout_in({"format": 1, "name": "moved", "matrix": [matrix]})
