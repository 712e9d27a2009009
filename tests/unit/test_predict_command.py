"""`predict`: every way to write a fault gives a readings file, and `predict ... | diagnose LAYOUT -` names it again."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from typing import Any

import pytest

from matrixcheck.cli.main import main
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import format_fault, parse_fault
from matrixcheck.diagnosis.result import FaultClass, to_json
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.record.readings import read_readings
from tests.machines import saltmarsh_tram
from tests.samples import some_of

MACHINE = saltmarsh_tram()
PROGRAM = [sys.executable, "-m", "matrixcheck.cli.main"]


class Piped:
    """Runs the commands as a pipe would: what the first prints, the second reads."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        # The cap is lifted: what is asked here is the answer, not how fast a loaded machine finds it.
        self.monkeypatch = monkeypatch
        self.capsys = capsys

    def predict(self, *words: str) -> str:
        assert main(["predict", "saltmarsh-tram", *words]) == 0
        printed = self.capsys.readouterr()
        assert printed.err == ""
        return printed.out

    def diagnose(self, text: str) -> dict[str, Any]:
        self.monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(text.encode())))
        assert main(["diagnose", "saltmarsh-tram", "-", "--json"]) == 0
        found: dict[str, Any] = json.loads(self.capsys.readouterr().out)
        return found


@pytest.fixture
def piped(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Piped:
    return Piped(monkeypatch, capsys)


def best(found: dict[str, Any]) -> list[dict[str, Any]]:
    """Every fault that the likeliest explanation names."""
    named = found["explanations"][0]["suspects"]
    return [member for each in found["suspects"] if each["id"] in named for member in each["members"]]


NOTATIONS = (
    ("open:Q3", "switches", ""),
    ("open:X6-3", "switches", ""),
    ("open:U4-12", "lamps", ""),
    ("open:switches.r5", "switches", ""),
    ("unplugged:X5", None, ""),  # rows of switches and columns of lamps
    ("plugs-swapped:X1:X2", "switches", ""),
    ("plug-shifted:X6:1", "switches", ""),
    ("plug-shifted:X5:-1", None, ""),  # in both matrices
    ("fuse-blown:F3", "coils", ""),
    ("relay-stuck:K1", "coils", ""),
    ("relay-stuck:K1:pulled", "coils", ""),
    ("break:switches.c3:2", "switches", ""),
    ("break:lamps.c8:3", "lamps", ""),  # its chain is unknown
    ("break:switches.c5:r1c5+r2c5+r4c5", "switches", ""),
    ("crossed:switches.r1:switches.r2", "switches", ""),
    ("shorted-together:lamps.c1:lamps.c2", "lamps", ""),
    ("stuck-on:lamps.c4", "lamps", ""),
    ("stuck-on:Q4", "switches", ""),
    ("grounded:switches.r3", "switches", ""),
    ("device-dead:lamps.7", "lamps", ""),
    ("device-stuck:switches.r2c3", "switches", ""),
    ("diode-open:switches.r2c3", "switches", ""),
    ("diode-shorted:lamps.r2c3", "lamps", ""),
    ("diode-reversed:lamps.9", "lamps", ""),
    ("diode-shorted:switches.r2c3", "switches", "r2c4,r5c3"),
    ("keep-warm-glow:coils", "coils", ""),
    ("wrong-device:coils.1", "coils", ""),
)


@pytest.mark.parametrize(("fault", "matrix", "held"), some_of(NOTATIONS, 7))
def test_each_notation_goes_round(piped: Piped, fault: str, matrix: str | None, held: str) -> None:
    options = [*(("--matrix", matrix) if matrix else ()), *(("--held", held) if held else ())]
    text = piped.predict("--fault", fault, *options)
    put_in = to_json(parse_fault(fault, MACHINE))
    assert {key: put_in[key] for key in ("fault", "part", "lines", "cells", "with", "when")} in [
        {key: member[key] for key in ("fault", "part", "lines", "cells", "with", "when")}
        for member in best(piped.diagnose(text))
    ]


def test_the_notations_above_hold_every_fault_class() -> None:
    assert {fault.partition(":")[0] for fault, *_ in NOTATIONS} == {str(each) for each in FaultClass}


def examples(capsys: pytest.CaptureFixture[str]) -> list[str]:
    """The faults that the help gives as examples."""
    assert main(["predict", "--help"]) == 0
    return re.findall(r"^    ([a-z-]+:\S+)", capsys.readouterr().out, re.MULTILINE)


def test_the_help_has_an_example_of_every_fault_and_each_can_be_read(capsys: pytest.CaptureFixture[str]) -> None:
    named = [parse_fault(example, MACHINE).fault for example in examples(capsys)]
    assert sorted(named) == sorted(FaultClass)


@pytest.mark.parametrize("name", ["bogus", "brek", "", "FUSE"])
def test_an_unknown_fault_is_answered_with_all_that_there_are(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["predict", "saltmarsh-tram", "--fault", f"{name}:Q1"]) == 2
    said = capsys.readouterr().err
    assert [fault for fault in FaultClass if f"{fault}," not in said and f"{fault};" not in said] == []
    assert "open:Q3" in said
    assert ("did you mean 'break'?" in said) is (name == "brek")


def test_faults_add_up(piped: Piped) -> None:
    text = piped.predict("--fault", "open:Q3", "--fault", "crossed:lamps.r1:lamps.r2")
    named = {brief(member) for member in best(piped.diagnose(text))}
    assert {"open Q3", "crossed lamps.r1"} <= named


def brief(member: dict[str, Any]) -> str:
    return f"{member['fault']} {member['part'] or member['lines'][0]}"


def test_no_fault_gives_the_readings_of_a_sound_machine(piped: Piped) -> None:
    text = piped.predict()
    readings = read_readings(text, MACHINE, "x")
    assert list(readings) == list(predict(MACHINE, [], readings))
    assert piped.diagnose(text)["explanations"][0]["suspects"] == []


def test_what_is_held_is_held_in_every_reading_of_that_matrix_and_in_no_other(piped: Piped) -> None:
    readings = read_readings(piped.predict("--matrix", "switches", "--held", "r2c4 r5c3"), MACHINE, "x")
    held = (CellKey("switches", 2, 4), CellKey("switches", 5, 3))
    assert {(reading.matrix, reading.held) for reading in readings} == {("switches", held)}
    cells = [reading.cell for reading in readings]
    assert cells[0] is None
    assert set(cells[1:]) == {cell.key for cell in MACHINE.matrix("switches").fitted} - set(held)


def test_a_wrong_coil_shows_in_its_resistance_alone() -> None:
    fault = parse_fault("wrong-device:coils.1", MACHINE)
    asked = [Reading(matrix="coils", cell=cell.key) for cell in MACHINE.matrix("coils").fitted]
    sound, wrong = predict(MACHINE, [], asked), predict(MACHINE, [fault], asked)
    assert [each.answered for each in sound] == [each.answered for each in wrong]
    assert [each.cell for each in wrong if each.ohms is not None] == list(fault.cells)
    assert format_fault(fault, MACHINE) == "wrong-device:coils.r1c1"


def test_a_real_pipe_closes_the_circle() -> None:
    first = subprocess.run(
        [*PROGRAM, "predict", "saltmarsh-tram", "--fault", "open:Q3"], capture_output=True, check=True
    )
    second = subprocess.run(
        [*PROGRAM, "diagnose", "saltmarsh-tram", "-"], input=first.stdout, capture_output=True, check=True
    )
    assert "Q3" in second.stdout.decode()
    assert (first.stderr, second.stderr) == (b"", b"")
