"""A reading that every candidate predicts alike changes nothing, whatever was read before and which solver serves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.evidence.exercises import exercises_of
from matrixcheck.diagnosis.evidence.noise import Glow, glow_of
from matrixcheck.diagnosis.evidence.observations import observe
from matrixcheck.diagnosis.forward.fault_effects import condition_of
from matrixcheck.diagnosis.forward.simulate import predict, shows
from matrixcheck.diagnosis.machine.candidates import laid_out
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.model import Kind, Layout, Matrix
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.bench.marks import draw_marked
from tests.unit.drawn_machines import evenings, machines
from tests.unit.wide_beam import widen

WITHIN = 0.005
NEARLY_ALL = 0.999
"""What the named explanations must come to: others may predict something else."""
LIKELY = 0.01
"""Suspects of less likely explanations come and go with the ten that are named."""


def named(found: Diagnosis) -> Iterator[tuple[Fault, ...]]:
    """The healthy machine, the explanations, each of these without one of its suspects or with other members, and cells
    that may have a cause of their own."""
    yield ()
    for explanation in found.explanations:
        groups = [found.suspect(name).members for name in explanation.suspects]
        for at, members in enumerate(groups):
            yield tuple(group[0] for place, group in enumerate(groups) if place != at)
            for member in members:
                yield tuple(member if place == at else group[0] for place, group in enumerate(groups))
    for cell in found.cells:
        if cell.private > WITHIN:
            yield from (
                (Fault(fault=one, cells=(cell.cell,)),) for one in (FaultClass.DEVICE_DEAD, FaultClass.DEVICE_STUCK)
            )


def said_by_all(layout: Layout, found: Diagnosis, exercise: Reading, before: Sequence[Reading]) -> Reading | None:
    """What every named set predicts of this exercise, whatever the layout leaves open; None where they differ."""
    matrix = layout.matrix(exercise.matrix)
    earlier = [each for each in before if each.matrix == matrix.id]
    said = {reading for faults in named(found) for reading in ways_to_show(layout, matrix, faults, exercise, earlier)}
    return said.pop() if len(said) == 1 else None


def ways_to_show(
    layout: Layout, matrix: Matrix, faults: Sequence[Fault], exercise: Reading, earlier: Sequence[Reading]
) -> Iterator[Reading]:
    """What these faults may show of an exercise: in each way that the layout leaves open and no reading has settled.

    Keep-warm LEDs that glow look bright, or faint, all of a bank alike. A test may not switch its lighting: then all
    strings show what they show when commanded. Of the string that is commanded, perhaps only the judged lamp is listed.
    """
    for shown in unswitched_or_not(layout, matrix, faults, exercise, earlier):
        for listed in of_its_string_or_not(matrix, shown, earlier):
            yield from bright_or_faint(layout, matrix, faults, listed, earlier)


def unswitched_or_not(
    layout: Layout, matrix: Matrix, faults: Sequence[Fault], exercise: Reading, earlier: Sequence[Reading]
) -> Iterator[Reading]:
    (shown,) = predict(layout, faults, [exercise])
    yield shown
    if is_lighting(matrix) and not any(shows_a_dark_string(matrix, each) for each in earlier):
        commands = [Reading(matrix=matrix.id, cell=cell.key) for cell in matrix.fitted]
        ever = {cell for each in predict(layout, faults, commands) for cell in each.answered or ()}
        yield replace(shown, answered=tuple(sorted(ever)))


def is_lighting(matrix: Matrix) -> bool:
    return matrix.kind is Kind.LAMP and not matrix.rows_shared


def shows_a_dark_string(matrix: Matrix, reading: Reading) -> bool:
    """Whether a list says that a string was dark while it wasn't commanded."""
    if reading.answered is None:
        return False
    lit = {cell.column for cell in (*reading.answered, *reading.faint)}
    own = {reading.cell.column} if reading.cell else set()
    return bool({cell.key.column for cell in matrix.fitted} - lit - own)


def of_its_string_or_not(matrix: Matrix, shown: Reading, earlier: Sequence[Reading]) -> Iterator[Reading]:
    yield shown
    judged = shown.cell
    if judged is not None and is_lighting(matrix) and not any(map(lists_its_string, earlier)):
        kept = tuple(cell for cell in shown.answered or () if cell == judged or cell.column != judged.column)
        yield replace(shown, answered=kept)


def lists_its_string(reading: Reading) -> bool:
    """Whether another lamp of the string that was commanded is listed."""
    cell = reading.cell
    return cell is not None and any(
        one.column == cell.column and one != cell for one in (*(reading.answered or ()), *reading.faint)
    )


def bright_or_faint(
    layout: Layout, matrix: Matrix, faults: Sequence[Fault], shown: Reading, earlier: Sequence[Reading]
) -> Iterator[Reading]:
    glowing = glow_in(layout, matrix, faults, shown)
    looks = look_so_far(matrix, earlier)
    if looks is not Glow.FAINT or not glowing:
        yield shown
    if looks is not Glow.BRIGHT and glowing:
        bright = tuple(cell for cell in shown.answered or () if cell not in glowing)
        yield replace(shown, answered=bright, faint=tuple(sorted({*shown.faint, *glowing})))


def glow_in(layout: Layout, matrix: Matrix, faults: Sequence[Fault], shown: Reading) -> set[CellKey]:
    """The LEDs that keep-warm resistors light, bright or faint, with these faults."""
    frame = Frame(matrix)
    condition = condition_of(frame, [laid_out(layout, fault) for fault in faults])
    glow = shows(frame, condition, exercises_of(frame, [(shown.cell, shown.held)])).glow
    return set() if glow is None else {frame.cell_at(int(s), int(d)) for s, d in np.argwhere(glow[:, 0, :])}


def look_so_far(matrix: Matrix, earlier: Sequence[Reading]) -> Glow:
    """How the keep-warm LEDs of a bank look by what was read of it so far."""
    frame = Frame(matrix)
    found = observe(frame, earlier, shipped_rates().reading)
    return Glow.ANY if found.exercises.alone else glow_of(frame, found.exercises.slot, found.seen, found.judged)


def sayings(
    layout: Layout, found: Diagnosis, matrix: Matrix, number: int, before: Sequence[Reading]
) -> Iterator[Reading]:
    """Readings of a matrix that nobody learns from: a note, a rest scan, a list and a mark of one cell."""
    cell = matrix.fitted[number % len(matrix.fitted)].key
    yield Reading(matrix=matrix.id, cell=cell, note="looked at")
    resting = said_by_all(layout, found, Reading(matrix=matrix.id), before)
    if resting is not None:
        yield resting
    listed = said_by_all(layout, found, Reading(matrix=matrix.id, cell=cell), before)
    if listed is not None:
        yield listed
        if resting is not None and cell in (listed.answered or ()) and cell not in (resting.answered or ()):
            yield replace(listed, answered=None, faint=(), mark=Mark.WORKING)


def of_suspects(found: Diagnosis) -> dict[Fault, float]:
    """The probability of each likely suspect, by its first member."""
    likely = {name for one in found.explanations if one.probability >= LIKELY for name in one.suspects}
    return {one.members[0]: one.probability for one in found.suspects if one.id in likely}


def moved(before: Diagnosis, after: Diagnosis) -> list[str]:
    """The suspects, and the cells that were marked before, that moved further than they may."""
    ours, theirs = of_suspects(before), of_suspects(after)
    pairs = {str(one): (ours.get(one, 0.0), theirs.get(one, 0.0)) for one in ours.keys() | theirs.keys()}
    cells = {one.cell: one.private for one in before.cells if one.mark is not Mark.UNTESTED}
    pairs |= {str(one.cell): (cells[one.cell], one.private) for one in after.cells if one.cell in cells}
    return [f"{name}: {a} and {b}" for name, (a, b) in pairs.items() if abs(a - b) > WITHIN]


@settings(max_examples=8, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow])
@given(st.data())
def test_what_every_candidate_predicts_moves_no_probability(data: st.DataObject) -> None:
    nothing_moves(data)


@pytest.mark.slow
@settings(
    max_examples=150,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)
@given(st.data())
def test_what_every_candidate_predicts_moves_no_probability_on_many_machines(data: st.DataObject) -> None:
    nothing_moves(data)


def nothing_moves(data: st.DataObject) -> None:
    """Draw a machine and readings; what says nothing of them must move no probability.

    Where a list turns the exact search into the beam, and that left more out than it may move, a wide beam moves
    nothing: that is why, and no other reason will do.
    """
    layout = data.draw(machines(3))
    readings = data.draw(evenings(layout))
    read = [matrix for matrix in layout.matrices if any(each.matrix == matrix.id for each in readings)]
    assume(read)
    before = diagnose(layout, readings)
    assume(sum(one.probability for one in before.explanations) >= NEARLY_ALL)
    number = data.draw(st.integers(0, 15))
    for matrix in read:
        for reading in sayings(layout, before, matrix, number, readings):
            after = diagnose(layout, [*readings, reading])
            if moved(before, after) and before.searched.exact and not after.searched.exact:
                with pytest.MonkeyPatch.context() as patched:
                    widen(patched)
                    after = diagnose(layout, [*readings, reading])
            assert moved(before, after) == [], reading


def empty_scans(layout: Layout) -> list[Reading]:
    return [Reading(matrix=matrix.id, answered=()) for matrix in layout.matrices]


@pytest.mark.parametrize("seed", [*range(4), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(4, 8))])
def test_an_empty_rest_scan_leaves_marks_to_the_exact_search(seed: int) -> None:
    machine = draw_marked(f"empty scan {seed}", shared=seed % 4)
    before = diagnose(machine.layout, machine.readings)
    after = diagnose(machine.layout, [*machine.readings, *empty_scans(machine.layout)])
    assert after.searched.exact == before.searched.exact
    assert moved(before, after) == []


TROUGH = """
format = 1
name = "Invented trough"
[[matrix]]
id = "switches"
kind = "switch"
numbering = "along-rows"
cells = [["one", "two", "three"], ["four", "five", "six"]]
[matrix.cell.1]
rest = "closed"
"""


@pytest.mark.parametrize("others", ["", "held"])
def test_a_switch_that_rests_closed_and_is_marked_stuck_is_named(others: str) -> None:
    """Beside a reading with a held switch, which marks alone can't say, as well."""
    layout = parse_layout(TROUGH, "trough")
    (matrix,) = layout.matrices
    first, second, *rest = (cell.key for cell in matrix.fitted)
    readings = [Reading(matrix=matrix.id, cell=cell, mark=Mark.WORKING) for cell in rest]
    readings.append(Reading(matrix=matrix.id, cell=first, mark=Mark.STUCK))
    if others:
        readings.append(Reading(matrix=matrix.id, cell=second, held=(rest[0],), mark=Mark.WORKING))
    found = diagnose(layout, readings)
    assert str(found.suspects[0].members[0].fault) == "device-stuck"
    assert found.suspects[0].members[0].cells == (first,)


LONE_LAMP = """
format = 1
name = "Invented lone lamp"
[[matrix]]
id = "switches"
kind = "switch"
cells = [["tram stop"]]
[[matrix.row]]
label = "1"
supply = ["F1"]
[[matrix]]
id = "lamps"
kind = "lamp"
cells = [["tram bell"]]
[[matrix.row]]
label = "1"
supply = ["F1"]
"""


def test_a_list_of_another_matrix_moves_no_lamp_that_is_alone_in_its_row() -> None:
    layout = parse_layout(LONE_LAMP, "lone lamp")
    switch, lamp = (matrix.fitted[0].key for matrix in layout.matrices)
    readings = [
        Reading(matrix="switches", cell=switch, mark=Mark.WORKING),
        Reading(matrix="lamps", cell=lamp, mark=Mark.STUCK),
    ]
    listed = Reading(matrix="switches", cell=switch, answered=(switch,))
    assert moved(diagnose(layout, readings), diagnose(layout, [*readings, listed])) == []


LONE_WARM_LED = """
format = 1
name = "Invented lone LED"
[[matrix]]
id = "lamps"
kind = "lamp"
supply = ["F1"]
cells = [["tram bell"]]
[[matrix.row]]
path = ["U2-1"]
[matrix.cell.1]
fitted = "led"
keep_warm = {ohms = 330, volts = 24}
[[matrix]]
id = "switches"
kind = "switch"
cells = [["tram stop"], ["depot"]]
[[matrix.column]]
path = ["U2-2"]
"""


def test_a_fuse_that_shows_as_one_dark_lamp_is_named_by_neither_solver_without_a_gain() -> None:
    """The lamp works, and didn't glow at rest: a blown fuse and a wrong mark would say so, at no gain."""
    layout = parse_layout(LONE_WARM_LED, "lone LED")
    cells = [cell.key for matrix in layout.matrices for cell in matrix.fitted]
    readings = [Reading(matrix=cell.matrix, cell=cell, mark=Mark.WORKING) for cell in cells]
    listed = Reading(matrix="switches", cell=cells[1], answered=(cells[1],))
    before, after = diagnose(layout, readings), diagnose(layout, [*readings, listed])
    assert moved(before, after) == []
    assert [one.suspects for one in after.explanations if one.probability >= LIKELY] == [()]


LIT_BESIDE_A_CHAIN = """
format = 1
name = "Invented lamps beside a chain"
[[matrix]]
id = "m1"
kind = "lamp"
numbering = "along-rows"
strobe = "row"
cells = [["", "", ""], ["", "m1 2 2", ""], ["m1 3 1", "m1 3 2", ""], ["", "m1 4 2", ""]]
[[matrix.column]]
[[matrix.column]]
chain = [5, 8, 11]
supply = ["F1"]
[[matrix.column]]
[matrix.cell.7]
fitted = "led"
keep_warm = {ohms = 330, volts = 24}
[[matrix]]
id = "m2"
kind = "lamp"
numbering = "along-rows"
cells = [["m2 1 1", "m2 1 2"], ["m2 2 1", "m2 2 2"]]
[[matrix]]
id = "m3"
kind = "lamp"
numbering = "along-rows"
cells = [["m3 1 1", "m3 1 2"]]
[[matrix.row]]
supply = ["F1"]
"""


def test_a_list_of_another_matrix_moves_no_stuck_led_beside_a_chain() -> None:
    """The lamp glows as it should, so that nothing asks for what would look like it: only its own faults count."""
    layout = parse_layout(LIT_BESIDE_A_CHAIN, "beside a chain")
    cells = {cell.name: cell.key for matrix in layout.matrices for cell in matrix.fitted}
    stuck = ("m1 2 2", "m1 3 1", "m1 3 2", "m1 4 2", "m2 1 1")
    readings = [Reading(matrix=cells[name].matrix, cell=cells[name], mark=Mark.STUCK) for name in stuck]
    works = (cells["m3 1 1"], cells["m3 1 2"])
    readings += [Reading(matrix="m3", cell=cell, mark=Mark.WORKING) for cell in works]
    before = diagnose(layout, readings)
    listed = Reading(matrix="m3", cell=works[0], answered=(works[0],))
    assert said_by_all(layout, before, replace(listed, answered=None), readings) == listed
    with pytest.MonkeyPatch.context() as patched:
        widen(patched)
        after = diagnose(layout, [*readings, listed])
    assert moved(before, after) == []


LIGHTING = """
format = 1
name = "Invented lighting"
[[matrix]]
id = "lighting"
kind = "lamp"
rows_shared = false
supply = ["K3"]
cells = [["quay", "pier"]]
"""


def test_a_rest_scan_of_lighting_that_stayed_lit_says_something_and_one_of_switched_lighting_does_not() -> None:
    """Lighting that its test may not switch would be lit at rest as well."""
    layout = parse_layout(LIGHTING, "lighting")
    (matrix,) = layout.matrices
    quay, pier = (cell.key for cell in matrix.fitted)
    at_rest = Reading(matrix=matrix.id)
    stayed_lit = [Reading(matrix=matrix.id, cell=cell, answered=(quay, pier)) for cell in (quay, pier)]
    switched = [Reading(matrix=matrix.id, cell=cell, answered=(cell,)) for cell in (quay, pier)]
    assert said_by_all(layout, diagnose(layout, stayed_lit), at_rest, stayed_lit) is None
    assert said_by_all(layout, diagnose(layout, switched), at_rest, switched) == replace(at_rest, answered=())
