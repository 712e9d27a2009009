"""The demonstration's evening: its readings agree with the forward model, and what is planted is looked for and found.

The readings were worked out by hand from how such a machine is wired. That the forward model gives the same is a check
of both.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.cli.evening import Scenario, played, the_evening
from matrixcheck.cli.main import main
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.layout.designators import owner
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.events import Read, Repaired
from matrixcheck.record.job_state import JobState

EVENING = the_evening()
ALL_EVENING = [
    "open:Q3", "break:lamps.c7:4", "device-dead:lamps.r4c3", "device-dead:lamps.r7c8", "stuck-on:lamps.c5",
    "diode-shorted:switches.r2c6", "relay-stuck:K1:pulled", "fuse-blown:F7",
]  # fmt: skip
MOST_LINES = 80
"""Lines of 80 columns that the demonstration may print."""
UNTIL_REPAIRED = "unplugged:X5"


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> JobState:
    """The job after the last step, with nothing diagnosed on the way."""
    book = tmp_path_factory.mktemp("evening") / "evening.book"
    silent = EVENING.model_copy(
        update={"steps": tuple(step.model_copy(update={"finds": ()}) for step in EVENING.steps)}
    )
    for _ in played(silent, book):
        pass
    bench = Bench(book)
    state = bench.state(bench.jobs()[0].id)
    bench.close()
    return state


def readings(state: JobState) -> Iterator[tuple[bool, Reading]]:
    """Every reading of the evening, and whether X5 was home by then."""
    home = False
    for recorded in state.history:
        home = home or isinstance(recorded.event, Repaired)
        if isinstance(recorded.event, Read) and recorded.event.reading.ohms is None:
            yield home, recorded.event.reading


def test_what_the_technician_sees_is_what_the_forward_model_predicts(kept: JobState) -> None:
    faults = [parse_fault(text, kept.layout) for text in ALL_EVENING]
    unplugged = parse_fault(UNTIL_REPAIRED, kept.layout)
    seen = list(readings(kept))
    assert len(seen) > 160
    for home, reading in seen:
        (predicted,) = predict(kept.layout, faults if home else [*faults, unplugged], [reading])
        if reading.answered is not None:
            assert set(predicted.answered or ()) == set(reading.answered), reading
        else:
            assert (reading.cell in (predicted.answered or ())) == (reading.mark is Mark.WORKING), reading


def test_a_quarter_of_the_machine_stays_untested(kept: JobState) -> None:
    marks = [standing.mark for standing in kept.standings.values()]
    assert marks.count(Mark.UNTESTED) / len(marks) == pytest.approx(0.25, abs=0.02)


def test_everything_planted_is_looked_for_and_stands_in_the_layout(kept: JobState) -> None:
    assert {name for step in EVENING.steps for name in step.finds} == set(EVENING.planted)
    for planted in EVENING.planted.values():
        part = planted.fault.get("part")
        assert part is None or owner(part) in kept.layout.lines_through


def test_the_owner_and_the_serial_number_say_that_they_are_invented() -> None:
    assert "invented" in EVENING.owner.lower()
    assert "invented" in EVENING.serial.lower()


def test_the_demonstration_finds_what_was_planted_and_keeps_book_and_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["demo", "--out", str(tmp_path / "new" / "folder")]) == 0
    told = capsys.readouterr()
    assert told.err == ""
    assert "All of this is invented" in told.out
    assert "14 of 14 planted faults found." in told.out
    assert len(told.out.splitlines()) <= MOST_LINES
    folder = tmp_path / "new" / "folder"
    assert sorted(path.name for path in folder.iterdir() if path.suffix in (".book", ".html")) == [
        "evening.book",
        "evening.html",
    ]
    assert "Saltmarsh Tram" in (folder / "evening.html").read_text(encoding="utf-8")
    assert main(["--book", str(folder / "evening.book"), "job", "list"]) == 0
    assert "INVENTED-0042" in capsys.readouterr().out


def test_a_planted_fault_that_is_not_found_fails_the_demonstration(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    short = EVENING.model_dump(by_alias=True)
    short["planted"]["Q7"] = {"says": "transistor Q7 is open", "fault": {"fault": "open", "part": "Q7"}}
    short["step"] = [
        short["step"][0] | {"marks": {"switches": "31- 32- 33- 34- 41 42 43 44 21 22 23 24"}, "finds": ["Q3", "Q7"]}
    ]
    monkeypatch.setattr("matrixcheck.cli.evening.the_evening", lambda: Scenario.model_validate(short))
    assert main(["demo"]) == 1
    told = capsys.readouterr().out
    assert "NOT FOUND  transistor Q7 is open" in told
    assert "1 of 2 planted faults found." in told


def test_a_place_that_is_no_folder_is_refused_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file").write_text("mine")
    assert main(["demo", "--out", str(tmp_path / "file")]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.splitlines()) == 1
    assert str(tmp_path / "file") in told.err
    assert (tmp_path / "file").read_text() == "mine"
