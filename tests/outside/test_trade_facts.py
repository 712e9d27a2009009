"""What the trade knows of such machines, put to the diagnosis. Every fact here: common practice, no source."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape

import pytest

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.coil_resistance import deviation_words
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.reading import Reading
from matrixcheck.report.drawing.paper import PAPERS
from matrixcheck.report.page import page
from matrixcheck.report.plain import plain
from matrixcheck.report.reporting import report_of
from matrixcheck.report.sheet import sheet_of
from tests.machines import saltmarsh_tram


@pytest.fixture(scope="module")
def machine() -> Layout:
    return saltmarsh_tram()


def selected(machine: Layout) -> Reading:
    """A coil fired on the side that the relay selects when pulled: all else on that side is fed meanwhile."""
    bank = machine.matrix("coils")
    fired = next(
        cell.key for cell in bank.fitted if cell.device == "coil" and bank.columns[cell.key.column - 1].when == "pulled"
    )
    (reading,) = predict(machine, [], [Reading(matrix="coils", cell=fired)])
    return reading


def test_a_led_on_a_keep_warm_resistor_looks_stuck_on_and_is_no_fault_of_a_driver(machine: Layout) -> None:
    """With an LED fitted in place of the filament the keep-warm current alone lights it."""
    reading = selected(machine)
    lit = set(reading.answered or ()) - {reading.cell}
    assert lit
    for cell in map(machine.cell, lit):
        assert (cell.notes.fitted, cell.notes.keep_warm is not None) == ("led", True)
    found = diagnose(machine, [reading])
    assert found.explanations[0].suspects == ()
    assert {fault.fault for fault in found.suspects[0].members} == {FaultClass.KEEP_WARM_GLOW}
    assert lit <= set(found.suspects[0].explains)


def test_a_filament_on_a_keep_warm_resistor_shows_nothing(machine: Layout) -> None:
    warm = {cell.key for cell in machine.matrix("coils").fitted if cell.notes.keep_warm and cell.notes.fitted != "led"}
    assert warm
    assert not warm & set(selected(machine).answered or ())


def test_a_changeover_relay_that_sticks_makes_the_devices_of_the_other_bank_answer(machine: Layout) -> None:
    stuck = parse_fault("relay-stuck:K1:rest", machine)
    bank = machine.matrix("coils")
    asked = [Reading(matrix="coils", cell=cell.key) for cell in bank.fitted if bank.columns[cell.key.column - 1].when]
    others = [each for each in asked if each.cell and bank.columns[each.cell.column - 1].when == "pulled"]
    twins = 0
    for reading in predict(machine, [stuck], others):
        assert reading.cell is not None
        twin = reading.cell._replace(column=3 - reading.cell.column)
        coil = twin in bank.by_key and bank.by_key[twin].notes.keep_warm is None
        assert reading.cell not in (reading.answered or ())
        assert not coil or twin in (reading.answered or ())
        twins += coil
    assert twins > 5


def test_another_winding_on_the_same_bobbin_kicks_no_harder_than_its_current_grows(machine: Layout) -> None:
    """Force goes with the square of current times turns, and turns of the same copper go with the root of the ohms:
    on a stiff supply it grows as the current does, on a real one (1 ohm in series) less. Worked out: 4.8 and 2.9 ohms
    give 1.7 times the current, and 1.3 to 1.7 times the force (common practice, no source)."""
    coil = next(cell for cell in machine.matrix("coils").fitted if cell.notes.ohms == 4.8)
    words = deviation_words(coil, 2.9)
    assert "Draws up to 1.7 times the current" in words
    assert "Kicks about 1.3 to 1.7 times as hard" in words
    turns = {4.8: 1.0, 2.9: (2.9 / 4.8) ** 0.5}
    force = {ohms: (turns[ohms] / (ohms + series)) ** 2 for ohms in turns for series in (1.0,)}
    assert force[2.9] / force[4.8] == pytest.approx(1.34, rel=0, abs=0.01)


@pytest.fixture(scope="module")
def reports(machine: Layout, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The report of a job just opened, as a page and as plain text, each in words with single blanks."""
    bench = Bench(tmp_path_factory.mktemp("trade") / "bench.book")
    sheet = sheet_of(bench, bench.new_job(machine, "Evening"), datetime(2031, 3, 1, tzinfo=UTC))
    bench.close()
    body = page(report_of(sheet, PAPERS["a4"]), PAPERS["a4"]).partition("<body>")[2]
    forms = {"page": unescape(re.sub(r"<[^>]*>", " ", body)), "plain": plain(sheet)}
    return {form: " ".join(text.split()) for form, text in forms.items()}


@pytest.mark.parametrize("form", ["page", "plain"])
@pytest.mark.parametrize(
    "words",
    [
        ("before power", "mains lead", "fuse", "earth", "exposed metal"),
        ("isolate", "discharge", "capacitors", "high-voltage displays", "after switching off"),
        ("playfield is heavy", "prop"),
        ("hints, not permission", "local codes", "licensed person"),
    ],
    ids=lambda words: words[0],
)
def test_the_report_says_first_what_can_hurt(reports: dict[str, str], form: str, words: tuple[str, ...]) -> None:
    before, heading, _ = reports[form].lower().partition("grids switch matrix" if form == "page" else "grids -----")
    assert heading
    assert [word for word in words if word not in before] == []


def test_what_can_hurt_at_each_kind_of_grid_is_said_before_the_first(reports: dict[str, str], machine: Layout) -> None:
    danger = {
        Kind.SWITCH: ("power is on", "coils"),
        Kind.LAMP: ("live", "hot"),
        Kind.COIL: ("injure", "burns", "switch off"),
    }
    before = reports["page"].lower().partition("grids switch matrix")[0]
    for matrix in machine.matrices:
        assert [word for word in danger[matrix.kind] if word not in before] == [], matrix.id
