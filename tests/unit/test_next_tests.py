"""What to exercise next: gains against information theory done the long way, the greedy order against the best tree."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import log2
from random import Random

import pytest
from diagnosis_case import machine
from hypothesis import given
from hypothesis import strategies as st
from syrupy.assertion import SnapshotAssertion

from matrixcheck.diagnosis.advice.hold_rounds import HoldRound
from matrixcheck.diagnosis.advice.next_tests import Exercise, Hypothesis, Outcome, gain, hypotheses, next_tests
from matrixcheck.diagnosis.forward.fault_effects import USUAL, Fitting, Fuse, Setting
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Explanation, Fault, FaultClass, Suspect
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading

LAYOUT = machine()
SWITCHES = LAYOUT.matrix("switches")
ANSWERS, DEAD = Outcome(True), Outcome(False)


def fault(text: str) -> Fault:
    return parse_fault(text, LAYOUT)


def dead_or_alive(faults: Sequence[Fault], exercises: Sequence[Exercise], _: Setting = USUAL) -> list[Outcome]:
    """A model that knows opens and breaks only: a cell that one of them takes hold of stays dead."""
    lost = {cell for each in faults for cell in each.cells}
    return [Outcome(exercise.cell is not None and exercise.cell not in lost) for exercise in exercises]


def way(weight: float, *texts: str) -> Hypothesis:
    faults = tuple(fault(text) for text in texts)
    return Hypothesis(weight, faults, faults)


# ---------- Gain ----------


def test_a_test_that_halves_equal_causes_gains_one_bit_less_what_a_wrong_mark_costs() -> None:
    noise = -(0.01 * log2(0.01) + 0.99 * log2(0.99))
    assert gain([1, 1], "ab", [ANSWERS, DEAD], 0.0) == pytest.approx(1.0, rel=0, abs=1e-12)
    assert gain([1, 1], "ab", [ANSWERS, DEAD], 0.01) == pytest.approx(1 - noise, rel=0, abs=1e-12)


def test_what_tells_no_cause_apart_gains_nothing() -> None:
    assert gain([3, 1], "ab", [ANSWERS, ANSWERS], 0.01) == pytest.approx(0, rel=0, abs=1e-12)
    # The two ways differ in what the test shows but not in the cause of the symptom.
    assert gain([3, 1], "aa", [ANSWERS, DEAD], 0.01) == pytest.approx(0, rel=0, abs=1e-12)


weighed = st.lists(st.tuples(st.floats(0.01, 1), st.integers(0, 3), st.booleans()), min_size=1, max_size=9)


@given(weighed, st.floats(0, 0.5))
def test_a_gain_is_at_most_a_bit_and_at_most_what_was_unknown(
    ways: list[tuple[float, int, bool]], wrong: float
) -> None:
    weights, causes, answers = zip(*ways, strict=True)
    found = gain(weights, causes, [Outcome(each) for each in answers], wrong)
    shares = [sum(w for w, c, _ in ways if c == cause) / sum(weights) for cause in set(causes)]
    unknown = -sum(share * log2(share) for share in shares)
    assert 0 <= found <= min(1.0, unknown) + 1e-9


@given(weighed)
def test_a_gain_is_the_drop_of_the_entropy_that_is_expected(ways: list[tuple[float, int, bool]]) -> None:
    """The definition, worked out the long way: entropy before less the mean of the entropies after."""
    weights, causes, answers = zip(*ways, strict=True)
    total = sum(weights)

    def entropy(rows: Sequence[tuple[float, int]]) -> float:
        mass = sum(w for w, _ in rows)
        parts = [sum(w for w, c in rows if c == cause) / mass for cause in {c for _, c in rows}]
        return -sum(part * log2(part) for part in parts if part > 0)

    before = entropy([(w, c) for w, c, _ in ways])
    after = 0.0
    for heard in (True, False):
        rows = [(w * (0.99 if a is heard else 0.01), c) for w, c, a in ways]
        after += sum(w for w, _ in rows) / total * entropy(rows)
    assert gain(weights, causes, [Outcome(a) for a in answers], 0.01) == pytest.approx(before - after, rel=0, abs=1e-9)


Ways = tuple[frozenset[tuple[int, int]], ...]

# ---------- Cells until isolation, against the best decision tree ----------


def lines_through(row: int, column: int) -> list[frozenset[tuple[int, int]]]:
    """What may have killed the cell at (row, column) of an 8x8 with known chains: itself, or a break of its row or its
    column somewhere before it; each as the set of cells it kills."""
    ways = [frozenset({(row, column)})]
    ways += [frozenset((row, place) for place in range(after, 8)) for after in range(column)]
    ways += [frozenset((place, column) for place in range(after, 8)) for after in range(row)]
    return ways


def split(ways: Ways, cell: tuple[int, int]) -> list[Ways]:
    return [tuple(way for way in ways if (cell in way) is dead) for dead in (True, False)]


@cache
def best_cost(ways: Ways) -> float:
    """The expected count of cells that the best decision tree exercises, over equally likely ways: the oracle."""
    if len(ways) == 1:
        return 0.0
    costs = []
    for cell in set().union(*ways):
        sides = split(ways, cell)
        if all(sides):
            costs.append(1 + sum(len(side) / len(ways) * best_cost(side) for side in sides))
    return min(costs)


def greedy_cost(ways: Ways) -> float:
    """The same for the order by gain."""
    if len(ways) == 1:
        return 0.0
    cells = sorted(set().union(*ways))
    gains = [
        gain([1] * len(ways), range(len(ways)), [Outcome(cell not in way) for way in ways], 0.01) for cell in cells
    ]
    sides = split(ways, cells[gains.index(max(gains))])
    return 1 + sum(len(side) / len(ways) * greedy_cost(side) for side in sides)


def row_by_row_cost(ways: Ways) -> float:
    """The same for a walk through the matrix that stops once one way is left."""
    total = 0
    for truth in ways:
        left, used = ways, 0
        for cell in ((row, column) for row in range(8) for column in range(8)):
            if len(left) == 1:
                break
            left, used = tuple(way for way in left if (cell in way) is (cell in truth)), used + 1
        total += used
    return total / len(ways)


def test_by_gain_a_break_is_isolated_in_nearly_as_few_cells_as_the_best_tree_needs() -> None:
    cases = [tuple(lines_through(row, column)) for row in range(8) for column in range(8)]
    best = sum(map(best_cost, cases)) / len(cases)
    greedy = sum(map(greedy_cost, cases)) / len(cases)
    walked = sum(map(row_by_row_cost, cases)) / len(cases)
    assert greedy <= 1.05 * best
    assert walked > 5 * greedy
    assert best == pytest.approx(2.895, rel=0, abs=0.001)


def test_by_gain_random_causes_are_isolated_in_nearly_as_few_cells_as_the_best_tree_needs() -> None:
    random = Random(20260)
    best = greedy = 0.0
    for _ in range(60):
        kills = {frozenset((0, cell) for cell in range(6) if random.random() < 0.5) for _ in range(7)}
        ways = tuple(sorted(kills - {frozenset()}, key=sorted))
        best, greedy = best + best_cost(ways), greedy + greedy_cost(ways)
    assert greedy <= 1.05 * best


# ---------- Hypotheses ----------


def suspect(name: str, *texts: str, explains: bool = True) -> Suspect:
    members = tuple(fault(text) for text in texts)
    seen = members[0].cells[:1] if explains else ()
    return Suspect(id=name, probability=0.5, members=members, explains=seen, contradicts=(), untested=(), says="")


def test_members_that_untested_cells_tell_apart_are_ways_of_their_own_and_others_one() -> None:
    group = suspect("s1", "break:switches.c1:1", "break:switches.c1:2", "open:Q1", "open:X5-1")
    found = hypotheses([Explanation(probability=0.8, suspects=("s1",))], [group], {"s1": [0.1, 0.2, 0.3, 0.2]})
    assert [len(each.faults[0].cells) for each in found] == [4, 2, 3]
    assert [each.weight for each in found] == pytest.approx([0.5, 0.2, 0.1], rel=1e-12, abs=0)


def test_every_choice_of_members_is_a_way_and_the_likeliest_come_first() -> None:
    groups = [
        suspect("a", "break:switches.c1:1", "break:switches.c1:2", "break:switches.c1:3"),
        suspect("b", "break:lamps.c1:1", "break:lamps.c1:2", explains=False),
    ]
    told = [Explanation(probability=0.6, suspects=("a", "b")), Explanation(probability=0.4, suspects=())]
    found = hypotheses(told, groups, {"a": [0.7, 0.2, 0.1], "b": [0.9, 0.1]})
    weights = [each.weight for each in found]
    assert weights == sorted(weights, reverse=True)
    assert sum(weights) == pytest.approx(1.0, rel=1e-12, abs=0)
    assert len(found) == 7
    assert {len(each.cause) for each in found if each.faults} == {1}
    assert len(hypotheses(told, groups, limit=3)) == 3


def test_a_loose_member_is_there_in_half_of_the_ways_and_tells_no_cause_apart() -> None:
    group = suspect("s1", "open:X5-1", "open:Q1")
    told = [Explanation(probability=0.8, suspects=("s1",))]
    ways = hypotheses(told, [group], {"s1": [0.3, 0.1]}, fitted={"s1": ((Fitting(loose=True),), (Fitting(),))})
    assert [(each.weight, len(each.faults)) for each in ways] == [
        (pytest.approx(0.3, rel=1e-12, abs=0), 1),
        (pytest.approx(0.3, rel=1e-12, abs=0), 0),
        (pytest.approx(0.2, rel=1e-12, abs=0), 1),
    ]
    assert ways[0].cause == ways[1].cause == (fault("open:X5-1"),)


def test_a_way_has_the_settings_of_all_its_faults() -> None:
    groups = [suspect("a", "grounded:lamps.c1"), suspect("b", "diode-shorted:lamps.2")]
    gone, led = Setting(Fuse.GONE), Setting(both_ways=True)
    told = [Explanation(probability=0.8, suspects=("a", "b"))]
    fitted = {"a": ((Fitting(gone), Fitting()),), "b": ((Fitting(led),),)}
    ways = hypotheses(told, groups, fitted=fitted)
    assert [each.setting for each in ways] == [Setting(Fuse.GONE, both_ways=True), led]


# ---------- Proposals ----------

WAYS = [way(0.4, "open:switches.c1"), way(0.3, "break:switches.c1:1"), way(0.2, "break:switches.c1:2"), way(0.1)]
LAST_OF_COLUMN = CellKey("switches", 4, 1)
SEEN = [Reading(matrix="switches", cell=LAST_OF_COLUMN, answered=()), Reading(matrix="switches", answered=())]


def test_the_most_informative_cell_comes_first_with_what_its_answer_would_mean(snapshot: SnapshotAssertion) -> None:
    found = next_tests(LAYOUT, SEEN, WAYS, dead_or_alive, wrong=0.01)
    gains = [test.gain for test in found]
    assert gains == sorted(gains, reverse=True)
    # The chain is 3, 1, 2, 4: switch 3 parts 0.4 from 0.6, switch 1 0.7 from 0.3, switch 2 0.9 from 0.1.
    assert [SWITCHES.by_key[test.cell].number for test in found if test.cell and test.gain > 0][:3] == [3, 1, 2]
    assert [test.says for test in found] == snapshot


def test_a_cell_that_all_causes_agree_on_is_never_proposed_for_its_gain() -> None:
    found = next_tests(LAYOUT, SEEN, WAYS, dead_or_alive, limit=50, wrong=0.01)
    assert {test.cell for test in found if test.gain > 0} == {CellKey("switches", row, 1) for row in (1, 2, 3, 4)}


def test_without_a_symptom_untested_lines_come_by_coverage_and_say_so() -> None:
    found = next_tests(LAYOUT, SEEN, [way(1.0)], dead_or_alive, limit=10, wrong=0.01)
    assert {test.gain for test in found} == {0.0}
    assert all("No symptom asks for it" in test.says for test in found if test.cell)
    lines = {line for test in found if test.cell for line in (test.cell.row, f"c{test.cell.column}")}
    # Row 4 and column 1 have a tested cell; rows 1 to 3 and columns 2 and 3 have none.
    assert lines >= {1, 2, 3, "c2", "c3"}


def test_a_covered_matrix_asks_for_no_more_cells() -> None:
    readings = [Reading(matrix="switches", cell=cell.key, answered=(cell.key,)) for cell in SWITCHES.fitted]
    found = next_tests(LAYOUT, [*readings, SEEN[1]], [way(1.0)], dead_or_alive, wrong=0.01)
    assert found == ()


def test_a_look_at_rest_is_proposed_until_it_was_made() -> None:
    assert next_tests(LAYOUT, SEEN[:1], [way(1.0)], dead_or_alive, wrong=0.01)[0].cell is None
    after = next_tests(LAYOUT, SEEN, [way(1.0)], dead_or_alive, wrong=0.01)
    assert after
    assert all(test.cell for test in after)


def test_a_look_at_rest_is_worth_its_gain_where_it_would_tell() -> None:
    def model(faults: Sequence[Fault], exercises: Sequence[Exercise], _: Setting = USUAL) -> list[Outcome]:
        stuck = {each.cells[0] for each in faults if each.fault is FaultClass.DEVICE_STUCK}
        return [Outcome(each.cell is not None, frozenset(stuck - {each.cell})) for each in exercises]

    ways = [way(0.5, "device-stuck:switches.1"), way(0.5, "device-dead:switches.2")]
    first = next_tests(LAYOUT, SEEN[:1], ways, model, wrong=0.01)[0]
    assert (first.cell, first.held) == (None, ())
    assert first.gain == pytest.approx(1.0, rel=0, abs=1e-9)


HOLD = HoldRound(
    (CellKey("switches", 1, 1), CellKey("switches", 2, 2)), (CellKey("switches", 1, 2), CellKey("switches", 2, 1))
)


def walked() -> list[Reading]:
    """Every switch pressed by itself, after a look at rest."""
    return [*(Reading(matrix="switches", cell=cell.key, answered=(cell.key,)) for cell in SWITCHES.fitted), SEEN[1]]


def test_diodes_that_only_a_hold_round_tests_are_named_as_not_testable_yet() -> None:
    (proposed,) = next_tests(LAYOUT, walked(), [way(1.0)], dead_or_alive, holds=[HOLD], wrong=0.01)
    assert (proposed.cell, proposed.held) == (None, HOLD.held)
    assert proposed.says == (
        "Not testable yet: 2 diodes, whose short shows only with other switches held. "
        "Hold switches 1 and 6 closed, then press the others."
    )


def test_a_hold_round_is_named_beside_cells_that_only_cover() -> None:
    readings = [Reading(matrix="switches", cell=CellKey("switches", 1, 1), answered=(CellKey("switches", 1, 1),))]
    asked = next_tests(LAYOUT, readings, [way(1.0)], dead_or_alive, holds=[HOLD], limit=2, wrong=0.01)
    assert [bool(test.held) for test in asked] == [False, True]


def test_a_suspected_shorted_diode_is_tried_with_the_switches_held_that_show_it() -> None:
    def model(faults: Sequence[Fault], exercises: Sequence[Exercise], _: Setting = USUAL) -> list[Outcome]:
        shorted = {each.cells[0] for each in faults if each.fault is FaultClass.DIODE_SHORTED}
        return [
            Outcome(
                each.cell is not None,
                frozenset({CellKey("switches", 2, 1)} if each.held and each.cell in shorted else ()),
            )
            for each in exercises
        ]

    ways = [way(0.5, "diode-shorted:switches.5"), way(0.5, "crossed:switches.r1:switches.r2")]
    first = next_tests(LAYOUT, SEEN, ways, model, holds=[HOLD], wrong=0.01)[0]
    assert (first.cell, first.held) == (CellKey("switches", 1, 2), HOLD.held)
    assert "held. If" in first.says
