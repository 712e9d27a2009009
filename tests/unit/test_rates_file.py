"""A workshop's own rates: they replace the shipped ones one by one, change diagnosis and advice alike, or are refused
with file and line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.diagnosis.diagnose import diagnose, refine
from matrixcheck.diagnosis.inference.kept import Kept
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.machine.rates_file import rates_of, read_rates
from matrixcheck.diagnosis.result import Diagnosis, FaultClass
from matrixcheck.errors import InputError
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()
COLUMNS = parse_layout(
    'format = 1\nname = "six lamps"\n[[matrix]]\nid = "m"\nkind = "lamp"\ncells = [["a", "b", "c"], ["d", "e", "f"]]\n'
    '[[matrix.column]]\npath = ["Q1"]\n[[matrix.column]]\npath = ["Q2"]\n[[matrix.column]]\npath = ["Q3"]\n',
    "lamps.toml",
)


def marked(*dead: tuple[int, int]) -> list[Reading]:
    return [
        Reading(matrix="m", cell=cell.key, mark=Mark.DEAD if cell.key[1:] in dead else Mark.WORKING)
        for cell in COLUMNS.matrices[0].fitted
    ]


def answered(*dead: tuple[int, int]) -> list[Reading]:
    return [
        Reading(matrix="m", cell=cell.key, answered=() if cell.key[1:] in dead else (cell.key,))
        for cell in COLUMNS.matrices[0].fitted
    ]


def chance(found: Diagnosis, fault: FaultClass, part: str | None = None, cell: CellKey | None = None) -> float:
    return max(
        (
            suspect.probability
            for suspect in found.suspects
            if any((each.fault, each.part) == (fault, part) and cell in (None, *each.cells) for each in suspect.members)
        ),
        default=0.0,
    )


def test_a_file_replaces_what_it_sets_and_nothing_else() -> None:
    own, shipped = (
        rates_of(b'[part]\n"transistor" = 0.2\n[cell.led]\n"device-dead" = 0.3\n', "own.toml"),
        shipped_rates(),
    )
    assert own.part == {**shipped.part, "transistor": 0.2}
    assert own.cell == {**shipped.cell, "led": {**shipped.cell["led"], "device-dead": 0.3}}
    assert own._replace(part=shipped.part, cell=shipped.cell) == shipped
    assert own.key != shipped.key


def test_an_empty_file_gives_the_shipped_rates() -> None:
    assert rates_of(b"", "own.toml").key == shipped_rates().key


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[prt]\na = 1", "own.toml:1: prt: there is no such table of rates; did you mean 'part'?"),
        (
            '[part]\n\n"transistr" = 0.1',
            "own.toml:3: part.transistr: there is no such rate; did you mean 'transistor'?",
        ),
        ("[part]\ntransistor = 2", "own.toml:2: part.transistor: a rate is from 0 and below 1, not 2"),
        ("[part]\ntransistor = -0.1", "own.toml:2: part.transistor: a rate is from 0 and below 1, not -0.1"),
        ("[part]\ntransistor = nan", "own.toml:2: part.transistor: a rate is from 0 and below 1, not nan"),
        ("[part]\ntransistor = true", "own.toml:2: part.transistor: a rate is a number from 0 and below 1, not true"),
        (
            '[part]\ntransistor = "rare"',
            "own.toml:2: part.transistor: a rate is a number from 0 and below 1, not 'rare'",
        ),
        ("part = 3", "own.toml:1: part: is a table of rates, not 3"),
        ("[part.transistor]\na = 1", "own.toml:1: part.transistor: a rate is a number from 0 and below 1, not a table"),
        ('[reading]\n"false echo" = 0', 'own.toml:2: reading."false echo": a rate is above 0 and below 1, not 0'),
        ('[reading]\n"missed glow" = 0.99', "with 'glow taken for light' it comes to 1 or more"),
        ('[reading]\n"wrong mark" = 0.9', "with 'wrongly faint' it comes to 1 or more"),
        ('[cell.led]\n"device-dead" = 0.999', "the rates of a cell come to 1 or more"),
        ("[part\n", "own.toml:1: not TOML"),
    ],
)
def test_what_can_not_be_is_refused_in_one_line_with_file_and_line(text: str, says: str) -> None:
    with pytest.raises(InputError) as refused:
        rates_of(text.encode(), "own.toml")
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


@given(st.binary(max_size=200) | st.text(alphabet='[]part."=01 \n', max_size=60).map(str.encode))
def test_any_bytes_are_rates_or_refused_in_one_line(data: bytes) -> None:
    said = "own.toml"
    try:
        rates_of(data, "own.toml")
    except InputError as refused:
        said = str(refused)
    assert said.startswith("own.toml")
    assert "\n" not in said


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no file"):
        read_rates(tmp_path / "none.toml")


@pytest.mark.parametrize("readings", [marked, answered], ids=["marks alone", "lists of what answered"])
def test_rates_of_parts_change_which_fault_is_likelier(readings: object) -> None:
    """Both lamps of a column are dead: its transistor, or both bulbs."""
    seen = (marked if readings is marked else answered)((1, 2), (2, 2))
    usual = diagnose(COLUMNS, seen)
    often = diagnose(COLUMNS, seen, rates=rates_of(b'[part]\n"transistor" = 0.3\n', "own.toml"))
    bulbs = diagnose(COLUMNS, seen, rates=rates_of(b'[cell.filament]\n"device-dead" = 0.4\n', "own.toml"))
    assert (
        chance(bulbs, FaultClass.OPEN, "Q2")
        < chance(usual, FaultClass.OPEN, "Q2")
        < chance(often, FaultClass.OPEN, "Q2")
    )


def test_the_rate_of_wrong_marks_changes_diagnosis_and_advice_alike() -> None:
    seen = [*marked((1, 2))[:4], Reading(matrix="m", cell=CellKey("m", 1, 2), mark=Mark.DEAD)]
    sure = diagnose(COLUMNS, seen)
    unsure = diagnose(COLUMNS, seen, rates=rates_of(b'[reading]\n"wrong mark" = 0.2\n', "own.toml"))
    cell = CellKey("m", 1, 2)
    assert chance(unsure, FaultClass.DEVICE_DEAD, cell=cell) < chance(sure, FaultClass.DEVICE_DEAD, cell=cell)
    assert max(test.gain for test in unsure.next) < max(test.gain for test in sure.next)


def test_what_an_earlier_analysis_kept_does_not_answer_for_other_rates() -> None:
    seen, own = answered((1, 2), (2, 2)), rates_of(b'[part]\n"transistor" = 0.3\n', "own.toml")
    kept: Kept[object, object] = Kept(COLUMNS)
    for rates in (None, own, None):
        *_, again = refine(COLUMNS, seen, kept=kept, rates=rates)  # type: ignore[arg-type]
        fresh = diagnose(COLUMNS, seen, rates=rates)
        assert again.suspects == fresh.suspects


def test_a_bench_diagnoses_by_its_rates(tmp_path: Path) -> None:
    own = rates_of(b'[part]\n"transistor" = 0.3\n', "own.toml")
    found = []
    for name, rates in (("usual", None), ("own", own)):
        bench = Bench(tmp_path / f"{name}.book", rates=rates)
        job = bench.new_job(COLUMNS, "six lamps")
        bench.mark(job, "m", "1 2 3- 4- 5 6")
        found.append(chance(bench.diagnosis(job), FaultClass.OPEN, "Q2"))
        bench.close()
    assert found[0] < found[1]


def test_commands_take_a_file_of_rates_and_refuse_a_wrong_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    seen = tmp_path / "seen.jsonl"
    seen.write_text('{"matrix": "lamps", "cell": 9, "answered": []}\n{"matrix": "lamps", "cell": 10, "answered": []}\n')
    own = tmp_path / "own.toml"
    shown = []
    for text in ("", '[part]\n"transistor" = 0.9\n', "[part]\ntransistr = 1\n"):
        own.write_text(text)
        code = main(["diagnose", "saltmarsh-tram", str(seen), "--rates", str(own)])
        shown.append((code, *capsys.readouterr()))
    (usual, often, wrong) = shown
    assert (usual[0], often[0]) == (0, 0)
    assert usual[1] != often[1]
    assert wrong[0] == 3
    assert f"{own}:2: part.transistr" in wrong[2]


def test_rates_go_by_what_a_line_feeds_and_by_what_is_fitted() -> None:
    rates = {
        (each.fault_class, each.part, each.cells if not each.lines else each.lines): each.rate
        for each in candidates(TRAM)
    }

    def of_contact(ref: str) -> float:
        return next(rate for (fault, part, _), rate in rates.items() if (fault, part) == (FaultClass.OPEN, ref))

    known = shipped_rates()
    assert of_contact("X6-1") == known.contact["switch"]
    assert of_contact("X7-1") == known.contact["lamp"]
    assert of_contact("X9-1") == known.contact["coil"]
    assert of_contact("X14-1") == known.contact["lighting"]
    assert (of_contact("X13-1"), of_contact("X17-1")) == (known.contact["switch"], known.contact["mid-loom"])
    of_cell = {cells: rate for (fault, _, cells), rate in rates.items() if fault is FaultClass.DEVICE_DEAD}
    assert of_cell[CellKey("lamps", 1, 1),] == known.cell["led"]["device-dead"]
    assert of_cell[CellKey("lamps", 1, 2),] == known.cell["filament"]["device-dead"]
    assert of_cell[CellKey("coils", 1, 2),] == known.cell["filament"]["device-dead"]  # a flash lamp
    assert of_cell[CellKey("coils", 1, 1),] == known.cell["coil"]["device-dead"]
