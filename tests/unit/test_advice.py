"""What to do next, with the real forward model: planted faults are isolated by doing what is proposed."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest
from test_holds import exposed as exposed_by_hand

from matrixcheck.diagnosis.advice.advise import LIKELY, advise, hold_rounds
from matrixcheck.diagnosis.advice.hold_rounds import hold_plan
from matrixcheck.diagnosis.advice.next_tests import Exercise, Outcome, hypotheses
from matrixcheck.diagnosis.advice.predictor import Predictor, Remembered, exposed_by
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.explanation.member_weights import Fitted, Shares
from matrixcheck.diagnosis.forward.fault_effects import Fuse, Setting
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.rates_file import rates_of
from matrixcheck.diagnosis.result import BenchCheck, Explanation, Fault, FaultClass, NextTest, Suspect
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.readings import read_readings
from tests.bench.cases import draw_case
from tests.machines import saltmarsh_tram
from tests.samples import some_of
from tests.spice.simulate import written

TRAM = saltmarsh_tram()
SWITCHES = TRAM.matrix("switches")


def square(side: int) -> Layout:
    """A full switch matrix, invented, with every chain known."""
    names = [[f"place {r} {c}" for c in range(1, side + 1)] for r in range(1, side + 1)]
    columns = [list(range(c * side + 1, (c + 1) * side + 1)) for c in range(side)]
    rows = [list(range(r + 1, side * side + 1, side)) for r in range(side)]
    text = f'format = 1\nname = "invented"\n[[matrix]]\nid = "m"\nkind = "switch"\ncells = {names}\n'
    text += "".join(f'[[matrix.column]]\npath = ["Q{c + 1}"]\nchain = {chain}\n' for c, chain in enumerate(columns))
    text += "".join(f"[[matrix.row]]\nchain = {chain}\n" for chain in rows)
    return parse_layout(text.replace("'", '"'), "test")


SQUARE = square(8)


@pytest.mark.parametrize(
    "planted", some_of(["break:m.c3:2", "break:m.r5:6", "open:m.c4", "open:m.r2", "break:m.c8:4"], 2)
)
def test_doing_what_is_proposed_isolates_a_planted_fault_in_few_cells(planted: str) -> None:
    fault = parse_fault(planted, SQUARE)
    readings = [*predict(SQUARE, [fault], [Reading(matrix="m"), Reading(matrix="m", cell=fault.cells[-1])])]
    for _ in range(9):
        found = diagnose(SQUARE, readings)
        tests, _ = advise(SQUARE, readings, found.explanations, found.suspects, {})
        todo = next((test for test in tests if test.gain > 0.05), None)
        if todo is None:
            break
        readings += predict(SQUARE, [fault], [Reading(matrix="m", cell=todo.cell, held=todo.held)])
    best = [found.suspect(name) for name in found.explanations[0].suspects]
    assert len(readings) <= 9
    assert any(fault.cells == member.cells for suspect in best for member in suspect.members)


def test_outcomes_are_told_against_a_healthy_machine() -> None:
    cells = [cell.key for cell in SWITCHES.fitted]
    asked = [Exercise("switches", None), *(Exercise("switches", cell) for cell in cells)]
    healthy = Predictor(TRAM).outcomes((), asked)
    assert healthy == [Outcome(False), *(Outcome(True) for _ in cells)]


def test_outcomes_agree_with_the_readings_that_the_model_predicts() -> None:
    """`predict` gives readings one by one; the outcomes come from one array of all exercises."""
    asked = [Exercise("switches", None), *(Exercise("switches", cell.key) for cell in SWITCHES.fitted)]
    blank = [Reading(matrix=each.matrix, cell=each.cell) for each in asked]
    due = predict(TRAM, [], blank)
    predictor = Predictor(TRAM)
    for text in ("open:U1", "stuck-on:switches.c2", "crossed:switches.r1:switches.r3", "device-stuck:switches.17"):
        fault = parse_fault(text, TRAM)
        predicted = predictor.outcomes((fault,), asked)
        for each, outcome, usual, seen in zip(asked, predicted, due, predict(TRAM, [fault], blank), strict=True):
            shown, normal = set(seen.answered or ()), set(usual.answered or ())
            assert outcome.answers is (each.cell in shown)
            assert outcome.others == shown - normal - {each.cell}
            assert outcome.missing == normal - shown - {each.cell}


def test_hold_rounds_by_the_forward_model_are_those_by_the_model_of_the_tests() -> None:
    matrix = SQUARE.matrix("m")
    assert hold_plan(matrix, exposed_by(matrix)) == hold_plan(matrix, exposed_by_hand)


@pytest.mark.parametrize(("layout", "matrix_id"), [(SQUARE, "m"), (TRAM, "switches")])
def test_what_a_hold_exposes_is_the_same_diode_by_diode(layout: Layout, matrix_id: str) -> None:
    """Pressed switches are held among others here, and some rest closed."""
    matrix = layout.matrix(matrix_id)
    cells = [cell.key for cell in matrix.fitted]
    exposed, some = exposed_by(matrix), 0
    for seed in range(12):
        draw = Random(seed)
        held = tuple(draw.sample(cells, draw.randint(0, 6)))
        one_by_one = sorted(cell for cell in cells if exposed(held, [cell]))
        assert sorted(exposed(held, cells)) == one_by_one
        some += len(one_by_one)
    assert some > 50


@pytest.mark.parametrize(("layout", "matrix_id"), [(SQUARE, "m"), (TRAM, "switches")])
def test_every_diode_is_exposed_in_a_hold_round_that_says_so(layout: Layout, matrix_id: str) -> None:
    rounds = hold_rounds(layout, [Reading(matrix=matrix_id, answered=())])
    exposed = {cell: each.held for each in rounds for cell in each.exposes}
    assert set(exposed) == {cell.key for cell in layout.matrix(matrix_id).fitted}
    for cell, held in exposed.items():
        asked = [Reading(matrix=matrix_id, cell=cell, held=held)]
        shorted = Fault(fault=FaultClass.DIODE_SHORTED, cells=(cell,))
        assert predict(layout, [shorted], asked) != predict(layout, [], asked)


def test_a_hold_round_is_left_as_long_as_it_would_test_a_diode() -> None:
    first, *others = hold_rounds(TRAM, [Reading(matrix="switches", answered=())])
    pressed = [Reading(matrix="switches", cell=cell, held=first.held) for cell in first.exposes]
    readings = list(predict(TRAM, [], pressed))
    half = hold_rounds(TRAM, readings[::2])
    assert half[0].held == first.held
    assert half[0].exposes == first.exposes[1::2]
    assert [each.held for each in hold_rounds(TRAM, readings)] == [each.held for each in others]


def test_with_nothing_held_a_shorted_diode_does_not_show() -> None:
    for cell in SQUARE.matrix("m").fitted[:9]:
        asked = [Reading(matrix="m", cell=cell.key)]
        shorted = Fault(fault=FaultClass.DIODE_SHORTED, cells=(cell.key,))
        assert predict(SQUARE, [shorted], asked) == predict(SQUARE, [], asked)


def test_a_healthy_machine_half_tested_gets_no_gain_and_no_check() -> None:
    readings = [Reading(matrix="switches", answered=())]
    readings += [Reading(matrix="switches", cell=cell.key, answered=(cell.key,)) for cell in SWITCHES.fitted[:30]]
    readings = [*predict(TRAM, [], readings)]
    found = diagnose(TRAM, readings)
    tests, checks = advise(TRAM, readings, found.explanations, found.suspects, {})
    assert {test.gain for test in tests} == {0.0}
    assert checks == ()
    assert CellKey("switches", 1, 1) not in {test.cell for test in tests}


def test_no_check_is_proposed_for_a_suspect_of_explanations_that_are_hardly_likely() -> None:
    """A dead column and a dead cell beside it: what stands in no likely explanation asks for no check, though it may
    well be there without a trace."""
    dead = [cell for cell in SWITCHES.fitted if cell.key.column == 3 or cell.number == 24]
    working = [cell for cell in SWITCHES.fitted if cell.number in (21, 22, 23)]
    readings = [Reading(matrix="switches", cell=cell.key, mark=Mark.DEAD) for cell in dead]
    readings += [Reading(matrix="switches", cell=cell.key, mark=Mark.WORKING) for cell in working]
    found = diagnose(TRAM, readings)
    hardly = {name for one in found.explanations if one.probability < LIKELY for name in one.suspects}
    likely = {name for one in found.explanations if one.probability >= LIKELY for name in one.suspects}
    assert hardly - likely
    assert {check.suspect for check in found.checks} <= likely


WITHOUT_PLUGS = b"[part]\nconnector = 0\n[plug]\nswapped = 0\nshifted = 0\n"
LAMPS = [cell.key for cell in TRAM.matrix("lamps").fitted][::9]


@pytest.mark.parametrize(
    "readings",
    [
        [Reading(matrix="lamps", cell=cell, mark=Mark.DEAD) for cell in LAMPS],
        [Reading(matrix="lamps", answered=()), *(Reading(matrix="lamps", cell=cell, answered=()) for cell in LAMPS)],
    ],
    ids=["marks", "lists"],
)
def test_no_next_test_pretends_to_part_a_blown_fuse_from_the_grounded_wire_that_took_it(
    readings: list[Reading],
) -> None:
    """The grounded wire explains all those dark lamps only if its fuse has gone, and so it stays.

    Plugs are left out: more readings part these from a fuse.
    """
    found = diagnose(TRAM, readings, rates=rates_of(WITHOUT_PLUGS, "without plugs"))
    (first,) = found.explanations[0].suspects
    assert {FaultClass.FUSE_BLOWN, FaultClass.GROUNDED} <= {one.fault for one in found.suspect(first).members}
    assert {test.gain for test in found.next} == {0.0}


@pytest.mark.parametrize(
    ("fuse", "answers"), [(Fuse.HOLDS, (False, True)), (Fuse.GOES, (False, True)), (Fuse.GONE, (False, False))]
)
def test_outcomes_are_those_of_the_setting_in_which_a_fault_was_fitted(fuse: Fuse, answers: tuple[bool, ...]) -> None:
    """Two sides on one fuse, the first grounded. Each exercise is foretold as the next one: in its own order, what
    takes the fuse would leave nothing for those that follow."""
    layout = parse_layout(ONE_FUSE, "test")
    fault = parse_fault("grounded:m.c1", layout)
    asked = [Exercise("m", CellKey("m", 1, 1)), Exercise("m", CellKey("m", 1, 2))]
    found = Predictor(layout).outcomes((fault,), asked, Setting(fuse))
    assert tuple(each.answers for each in found) == answers
    # Once its side was fed, a fuse that goes is gone.
    fed = [Reading(matrix="m", cell=CellKey("m", 2, 1), answered=())]
    found = Predictor(layout, fed).outcomes((fault,), asked, Setting(fuse))
    assert tuple(each.answers for each in found) == (False, fuse is Fuse.HOLDS)


ONE_FUSE = """
format = 1
name = "invented"
[[matrix]]
id = "m"
kind = "coil"
supply = ["F1"]
cells = [["a", "b"], ["c", "d"]]
[[matrix.column]]
select = "K1"
when = "pulled"
[[matrix.column]]
select = "K1"
when = "rest"
"""


@pytest.mark.parametrize("seed", some_of(range(8), 1))
@pytest.mark.parametrize("kind", ["lamp", "coil"])
def test_all_ways_of_an_explanation_foretell_what_was_read_alike(
    kind: str, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What no reading parts, the advice doesn't part in what was read."""
    case = draw_case(f"ways-{seed}", kind, 1 + seed % 2, classes=("grounded", "fuse-blown", "open", "diode-reversed"))
    layout = parse_layout(case.layout, case.name)
    readings = read_readings(written(case.readings), layout, case.name)
    asked = [Exercise(each.matrix, each.cell) for each in readings]
    checked: list[int] = []

    def check(
        layout: Layout,
        readings: Sequence[Reading],
        explanations: Sequence[Explanation],
        suspects: Sequence[Suspect],
        shares: Shares,
        *,
        fitted: Fitted,
        remembered: Remembered,
        **_: object,
    ) -> tuple[tuple[NextTest, ...], tuple[BenchCheck, ...]]:
        for explanation in [each for each in explanations[:3] if each.probability >= LIKELY]:
            # A group's members are alike beside the likeliest of the other groups: more than one at a time may not be.
            first, *others = hypotheses([explanation], suspects, shares, fitted=fitted)
            ways = [first, *(way for way in others if len(set(way.faults) - set(first.faults)) <= 1)]
            predictor = Predictor(layout, readings, remembered)
            predicted = {tuple(predictor.outcomes(way.faults, asked, way.setting)) for way in ways}
            assert len(predicted) == 1
            checked.append(len(ways))
        return (), ()

    monkeypatch.setattr("matrixcheck.diagnosis.diagnose.advise", check)
    diagnose(layout, readings)
    assert checked
