"""The measurements themselves: scores, marks and the other solvers behave, and every command runs on a few machines."""

from __future__ import annotations

import gc
import json
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path
from random import Random

import pytest
from msgspec import convert
from numpy import argwhere

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.matrix_frame import Frame
from matrixcheck.diagnosis.machine.rates_file import read_rates
from matrixcheck.diagnosis.result import FaultClass, to_json
from matrixcheck.layout.files import parse_layout, read_layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.record.readings import read_readings
from tests.bench import diagnosis as measured_diagnosis
from tests.bench import forward
from tests.bench.__main__ import names, run
from tests.bench.cases import KINDS, LESS_USUAL, classes_for, draw_board, draw_case, redraw, with_ohms
from tests.bench.isolation import advised, draw_puzzle, optimal, row_by_row
from tests.bench.layouts import draw_bank
from tests.bench.marks import Marked, draw_marked, model_of, right
from tests.bench.observer import content
from tests.bench.others import majority_marks, on_line, ten_best
from tests.bench.score import score
from tests.bench.tally import Tally
from tests.samples import some_of
from tests.spice.bank import address
from tests.spice.simulate import written

EVENLY_DRAWN = Path(measured_diagnosis.__file__).with_name("evenly_drawn_rates.toml")


def _answer(*members: dict[str, object]) -> dict[str, object]:
    blank = {"part": None, "lines": [], "cells": [], "after": None, "with": None, "when": None}
    suspects = [{"id": f"s{i}", "members": [blank | member]} for i, member in enumerate(members)]
    explanation = {"probability": 1.0, "suspects": [suspect["id"] for suspect in suspects]}
    return {"suspects": suspects, "explanations": [explanation]}


BREAK = {"fault": "break", "lines": ["m.c3"], "after": 2, "visible": True}
SHORT = {"fault": "shorted-together", "lines": ["m.c1", "m.c2"], "visible": True}


def test_a_break_counts_only_at_its_place_where_the_chain_is_known() -> None:
    near = _answer({"fault": "break", "lines": ["m.c3"], "after": 3})
    assert not score([BREAK], True, near).top
    assert score([BREAK], False, near).top
    assert score([BREAK], True, _answer({"fault": "break", "lines": ["m.c3"], "after": 2})).top


def test_a_planted_fault_of_a_cell_that_was_judged_wrongly_counts_when_it_is_named() -> None:
    stuck = {"fault": "device-stuck", "cells": ["m.r1c1"], "visible": True}
    named = _answer({"fault": "device-stuck", "cells": ["m.r1c1"]})
    assert score([stuck], True, named, ["m.r1c1"]).top
    only_read = score(
        [BREAK], True, _answer(BREAK | {"cells": []}, {"fault": "device-dead", "cells": ["m.r1c1"]}), ["m.r1c1"]
    )
    assert only_read.top
    assert only_read.extra == ()


def test_a_short_counts_however_its_two_lines_are_named() -> None:
    assert score([SHORT], True, _answer({"fault": "shorted-together", "lines": ["m.c2"], "with": "m.c1"})).top
    assert not score([SHORT], True, _answer({"fault": "crossed", "lines": ["m.c1", "m.c2"]})).top


def test_anything_named_on_a_healthy_machine_is_an_alarm_but_keep_warm_glow() -> None:
    assert score([], True, _answer()).top
    assert score([], True, _answer({"fault": "keep-warm-glow", "cells": ["m.r1c1"]})).top
    alarm = score([], True, _answer({"fault": "device-dead", "cells": ["m.r1c1"]}))
    assert not alarm.top
    assert alarm.alarm


def test_a_cell_that_was_judged_wrongly_may_be_named_for_itself_alone() -> None:
    dead = {"fault": "device-dead", "cells": ["m.r1c1"]}
    assert score([], True, _answer(dead), ["m.r1c1"]).top
    assert not score([], True, _answer(dead), ["m.r1c2"]).top
    assert not score([], True, _answer({"fault": "open", **_lines("r1"), "cells": ["m.r1c1"]}), ["m.r1c1"]).top


def test_what_shows_nothing_need_not_be_named() -> None:
    assert score(
        [BREAK | {"visible": False}, SHORT], True, _answer({"fault": "shorted-together", **_lines("c1", "c2")})
    ).top


def _lines(*names: str) -> dict[str, list[str]]:
    return {"lines": [f"m.{name}" for name in names]}


def test_the_calibration_error_is_the_gap_between_sureness_and_truth() -> None:
    tally = Tally("half sure")
    for hit in (True, False):
        tally.add(hit, hit, 0.0, 0.5)
    assert tally.calibration_error == pytest.approx(0.0, abs=1e-12)
    tally.add(False, False, 0.0, 0.95)
    assert tally.calibration_error == pytest.approx(0.95 / 3, abs=1e-12)


def test_named_covers_must_be_what_happened() -> None:
    a, b, c, d = (CellKey("m", 1, i) for i in range(1, 5))
    line, part = frozenset((a, b)), frozenset((a, b, c))
    assert right(frozenset({line}), [line])
    assert right(frozenset({line}), [line, frozenset({d})])
    assert not right(frozenset({line}), [part])
    assert right(frozenset({line, part}), [part])
    assert not right(frozenset(), [line])


@pytest.mark.parametrize("seed", range(4))
def test_cp_sat_lists_the_sets_that_enumeration_finds(seed: int) -> None:
    machine = draw_marked(f"small {seed}", 4)
    model = model_of(machine)

    def value(chosen: tuple[int, ...]) -> float:
        lost = frozenset().union(*(model.covers[i] for i in chosen))
        return sum(model.odds[i] for i in chosen) + sum(
            (model.lost if cell in lost else model.alive)[cell] for cell in machine.marks
        )

    sets = [chosen for size in range(4) for chosen in combinations(range(len(model.covers)), size)]
    best = sorted((value(chosen) for chosen in sets), reverse=True)[:3]
    index = {cover: i for i, cover in enumerate(model.covers)}
    found = [value(tuple(index[cover] for cover in covers)) for covers in ten_best(model, 3)]
    assert found == pytest.approx(best, abs=1e-3)


def test_the_majority_rule_names_a_line_that_is_mostly_dead() -> None:
    """Of more than half, among two at least; what is untested doesn't count."""
    grid = (
        "xw.x",
        "xwxw",
        "xxx.",
        ".x..",
    )
    names = [["lamp"] * 4 for _ in grid]
    text = f'format = 1\nname = "m"\n[[matrix]]\nid = "m"\nkind = "lamp"\ncells = {names}'.replace("'", '"')
    marks = {
        CellKey("m", row, column): sign == "x"
        for row, signs in enumerate(grid, 1)
        for column, sign in enumerate(signs, 1)
        if sign != "."
    }
    rows = {place: frozenset(cell for cell in marks if cell.row == place) for place in range(1, 5)}
    columns = {place: frozenset(cell for cell in marks if cell.column == place) for place in range(1, 5)}
    named = majority_marks(Marked(parse_layout(text, "m"), marks, frozenset()))
    assert len(named) == 4
    assert set(named) == {columns[1], columns[3], rows[1], rows[3]}


def test_the_majority_rule_finds_a_line_that_was_drawn_open() -> None:
    machines = [draw_marked(f"rule {i}", shared=1) for i in range(50)]
    whole = [
        (machine, cover)
        for machine in machines
        for cover in machine.truth
        if cover
        in {
            frozenset(cell for cell in machine.marks if on_line(cell, line))
            for line in machine.layout.matrices[0].lines
        }
    ]
    assert len(whole) > 5
    found = [cover in majority_marks(machine) for machine, cover in whole]
    assert sum(found) >= 0.9 * len(found)  # one mark in a hundred is wrong


@pytest.mark.parametrize("kind", some_of(KINDS + LESS_USUAL, 3))
def test_a_case_is_the_same_each_time_and_its_visible_faults_show(kind: str) -> None:
    case = draw_case("once", kind, 2)
    again = draw_case("once", kind, 2)
    assert (case.layout, case.readings, case.faults) == (again.layout, again.readings, again.faults)
    healthy = case.observer.readings(case.bank, (), case.board, case.plan)
    assert any(case.visible) == (list(map(content, healthy)) != list(map(content, case.readings)))
    assert {fault.fault for fault in case.faults} <= set(classes_for(case.bank))


def test_a_faint_lamp_that_is_wrongly_called_working_is_called_faint_no_more() -> None:
    case = draw_case("three 1 257", "coil", 3, wrong=0.01, rated=True)
    wrongly = [case.readings[index] for index in case.observer.wrong]
    plainly = replace(case.observer, wrong=frozenset()).readings(case.bank, case.faults, case.board, case.plan)
    assert any(plainly[index]["cell"] in plainly[index].get("faint", ()) for index in case.observer.wrong)
    assert not any(set(reading["answered"]) & {*reading.get("faint", ())} for reading in wrongly)
    assert read_readings(written(case.readings), parse_layout(case.layout, case.name), case.name)


def test_every_fault_class_is_drawn_for_some_kind_of_bank() -> None:
    banks = [draw_bank(Random(seed), kind) for seed, kind in product(range(9), KINDS + LESS_USUAL)]
    drawn = {name for bank in banks for name in classes_for(with_ohms(bank, draw_board(Random(0), bank)))}
    by_themselves = {"plugs-swapped", "plug-shifted"}  # drawn in test_misplaced_plugs, by plain wiring
    assert drawn | by_themselves == {str(each) for each in FaultClass}


@pytest.mark.parametrize("kind", KINDS)
def test_by_the_evenly_drawn_rates_each_class_is_about_as_common_as_any_other(kind: str) -> None:
    rates = read_rates(EVENLY_DRAWN)
    drawn = [draw_case(f"evenly {kind} {i}", kind, 1, hidden=0.0) for i in range(12)]
    for fault_class in set().union(*(classes_for(case.bank) for case in drawn)) - {"wrong-device"}:
        banks = [case for case in drawn if fault_class in classes_for(case.bank)]
        every = [each for case in banks for each in candidates(parse_layout(case.layout, case.name), rates)]
        a_bank = sum(each.rate for each in every if each.fault_class == fault_class) / len(banks)
        assert 0.04 < a_bank < 0.2, fault_class


def test_what_is_told_by_marks_alone_says_nothing_of_other_cells() -> None:
    cases = [draw_case(f"marks {i}", KINDS[i % 3], 1, marks=1.0) for i in range(9)]
    marked = [reading for case in cases for reading in case.readings if "mark" in reading]
    assert {reading["mark"] for reading in marked} >= {"working", "dead"}
    assert not any("answered" in reading for reading in marked)
    assert all(case.observer.marked for case in cases)


def test_a_loose_contact_contradicts_itself_on_its_own_lines_only() -> None:
    case = draw_case("loose", "switch", 1, loose=1.0, classes=("unplugged",))
    marks: dict[str, set[bool]] = {}
    for reading in case.readings:
        if "cell" in reading:
            marks.setdefault(reading["cell"], set()).add(reading["cell"] in reading["answered"])
    intermittent = {cell for cell, seen in marks.items() if len(seen) > 1}
    lost = {address(place) for line in case.faults[0].lines for place in case.bank.cells_of(line)}
    assert intermittent
    assert intermittent <= lost


def test_what_was_found_at_the_bench_is_true_of_the_machine() -> None:
    for i in range(6):
        case = draw_case(f"found {i}", "switch", 1, found=1.0, classes=("open",))
        struck = {ref for line in case.faults[0].lines for ref in case.bank.lines[line].path}
        for finding in case.findings:
            assert finding["verdict"] == "good" or finding["place"] in struck
        cleared = {finding["place"] for finding in case.findings if finding["verdict"] == "good"}
        assert not struck <= cleared


def test_a_wrong_coil_is_visible_where_it_was_measured() -> None:
    cases = [draw_case(f"wrong {i}", "coil", 1, classes=("wrong-device",)) for i in range(20)]
    for case in cases:
        measured = [address(place) for place, _, _ in case.observer.ohms]
        assert case.visible == (address(case.faults[0].cells[0]) in measured,)
    assert {case.visible for case in cases} == {(True,), (False,)}


@pytest.mark.parametrize("draws", [range(3), pytest.param(range(3, 16), marks=pytest.mark.slow)], ids=["few", "more"])
@pytest.mark.parametrize("kind", KINDS + LESS_USUAL)
def test_a_healthy_machine_gives_no_alarm(kind: str, draws: range) -> None:
    """Whatever the layout leaves unsaid, whatever is held, measured, told by marks alone or found good."""
    for i in draws:
        case = draw_case(f"sound {i}", kind, 0, marks=0.3, found=0.3)
        layout = parse_layout(case.layout, case.name)
        readings = read_readings(written(case.readings), layout, case.name)
        findings = [convert(each, Finding) for each in case.findings]
        answer = to_json(diagnose(layout, readings, findings))
        assert score((), bool(case.known), answer).extra == (), case.name
        assert answer["explanations"][0]["suspects"] == [], case.name
        assert answer["explanations"][0]["probability"] > 0.5, case.name


def test_written_cases_are_read_by_the_project_and_drawn_again(tmp_path: Path) -> None:
    assert run(["cases", "--out", str(tmp_path), "--count", "3", "--seed", "7", "--faults", "1"]) == 0
    for entry in json.loads((tmp_path / "injected.json").read_text("utf-8")):
        layout = read_layout(tmp_path / f"{entry['case']}.toml")
        text = (tmp_path / f"{entry['case']}.jsonl").read_text("utf-8")
        assert read_readings(text, layout, entry["case"])
        assert redraw(entry).layout == (tmp_path / f"{entry['case']}.toml").read_text("utf-8")
    assert run(["examine", str(tmp_path)]) == 0


@pytest.mark.slow
def test_the_diagnosis_measurement_prints_its_tables(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    # What the run froze stays so (tests/conftest.py). Looked through for garbage again, all that was collected would
    # make this take twenty times as long, and all tests after it longer.
    monkeypatch.setattr(gc, "unfreeze", lambda: None)
    counts = {
        "marked": 2,
        "exact": 1,
        "shared": 1,
        "contract": 2,
        "faulty": 1,
        "healthy": 1,
        "unusual": 1,
        "sized": 0,
        "rated": 3,
        "three": 1,
    }
    few = [word for name, count in counts.items() for word in (f"--{name}", str(count))]
    assert measured_diagnosis.main([*few, "--rates", str(EVENLY_DRAWN)]) == 0
    printed = capsys.readouterr().out
    for name in (
        EVENLY_DRAWN.name,
        "matrixcheck",
        "CP-SAT",
        "majority",
        "Ochiai",
        "none",
        "without diodes",
        "3 put in",
        "shipped rates",
    ):
        assert name in printed


@pytest.mark.parametrize("kind", ["switch", "bare", "lamp", "coil"])
def test_exercises_laid_out_together_show_what_each_shows_by_itself(kind: str) -> None:
    """What the speed of the forward model is measured on is what `predict` says reading by reading."""
    layout = forward.full_layout(kind, 4, 2 if kind == "coil" else 5)
    frame = Frame(layout.matrices[0])
    faults = Random(7).sample(candidates(layout), 40)
    for _, held in forward.holds_of(frame.matrix)[: 3 if kind in ("switch", "bare") else 1]:
        asked = [Reading(matrix="m", held=held)]
        asked += [
            Reading(matrix="m", cell=cell.key, held=tuple(key for key in held if key != cell.key))
            for cell in frame.matrix.fitted
        ]
        for fault, shown in zip(faults, forward.everything(frame, faults, forward.laid_out(frame, held)), strict=True):
            on = shown.on if shown.glow is None else shown.on | shown.glow
            for index, reading in enumerate(predict(layout, [fault.fault], asked)):
                places = {frame.cell_at(int(s), int(d)) for s, d in argwhere(on[:, index, :])}
                assert places == set(reading.answered or ()), (fault, reading)


def test_the_speed_of_the_forward_model_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["forward", "--size", "3x3", "--runs", "1"]) == 0
    assert "a diagonal" in capsys.readouterr().out


def test_the_advised_tests_isolate_a_cause_about_as_fast_as_any_order_can() -> None:
    puzzles = [draw_puzzle(f"isolation {i}", 6) for i in range(6)]
    best, ours, rows = (sum(map(way, puzzles)) for way in (optimal, advised, row_by_row))
    assert best <= ours <= 1.05 * best
    assert ours < rows


def test_an_unknown_measurement_is_refused_with_the_names_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["nothing"]) == 2
    assert "diagnosis" in capsys.readouterr().err
    assert {"cases", "diagnosis", "examine", "isolation"} <= set(names())
