"""One visit of the invented machine on the command line, from before power to the report. What is planted: contact X1-3
of switch column 3 is bent; the transistor Q3 is suspected first."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from matrixcheck.cli.main import main

Run = Callable[..., str]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that must succeed; what it printed."""
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))
    monkeypatch.setenv("MATRIXCHECK_INITIALS", "AB")
    monkeypatch.setenv("COLUMNS", "100")

    def ran(*words: str) -> str:
        assert main([*words]) == 0
        shown = capsys.readouterr()
        assert shown.err == ""
        return shown.out

    return ran


class Asked:
    """What the command line says of a job."""

    def __init__(self, run: Run, job: str) -> None:
        self.run, self.job = run, job

    def answer(self) -> str:
        """The answer as one line."""
        return " ".join(self.run("suspects", self.job).split())

    def due(self) -> int:
        """The cells that are due for a retest, by the job's counts and by the answer alike."""
        counted = json.loads(self.run("status", self.job, "--json"))["coverage"]
        cards = json.loads(self.run("suspects", self.job, "--json"))["answer"]["cards"]
        shown: int = max((one["due"] for card in cards for one in card["repairs"]), default=0)
        assert sum(count["retest_due"] for count in counted.values()) == shown
        return shown

    def unsteady(self) -> list[int]:
        """The numbers of the cells that come and go."""
        matrices = json.loads(self.run("job", "show", self.job, "--json"))["matrices"]
        return [cell["number"] for matrix in matrices for cell in matrix["cells"] if cell["intermittent"]]


def test_a_visit_from_before_power_to_the_report(run: Run, tmp_path: Path) -> None:
    job = run("job", "new", "saltmarsh-tram", "--name", "Invented tram", "--serial", "INVENTED-9").strip()

    # Before power: a check fails, is loud, and is cured.
    run("safety", job, "earth bond: door", "2.4", "--lead", "2.5x0.75")
    assert run("status", job).startswith("! safety check FAILED: earth bond: door (2.4 ohms, at most 0.165")
    run("safety", job, "earth bond: door", "0.12", "--lead", "2.5x0.75", "--note", "strap fitted")
    assert json.loads(run("safety", job, "--json"))["counts"]["failed"] == 0
    assert "FAILED" not in run("status", job)

    # Rounds: column 3 is dead; its neighbours work. One lamp is marked wrongly, an old slip.
    run("rest", job, "switches", "11", "12", "13", "14", "15", "47")
    run("mark", job, "switches", "c3-", "21", "22", "23", "24", "41", "42", "43", "44")
    run("mark", job, "lamps", "1", "2", "3-", "4")
    run("mark", job, "lamps", "3")

    asked = Asked(run, job)
    assert "1 Switch column 3 is open" in asked.answer()
    assert asked.due() == 0

    # A check by its code, a wrong repair: the fault is out of the answer, its retest is due.
    assert "driver-open.Q3" in run("checks", job, "1")
    assert run("finding", job, "driver-open.Q3", "good", "--note", "diode test").startswith("kept")
    (known,) = json.loads(run("suspects", job, "--json"))["answer"]["cards"][0]["known"]
    assert known == "check driver-open.Q3 good: diode test"
    said = run("repair", job, "q3", "--did", "replaced to be sure")
    assert "8 cells are due" in said
    assert "1 Q3 repaired: replaced to be sure retest due, 8 cells" in asked.answer()
    assert "Switch column 3 is open" not in asked.answer()
    assert asked.due() == 8

    # A round over just these fails: the fault is open again, and says after which repair.
    assert run("retest", job).startswith("round of switches started over 8 cells")
    run("mark", job, "switches", "c3-")
    assert "1 Switch column 3 is open" in asked.answer()
    assert "repair open again: the retest failed after Q3 was repaired (replaced to be sure)" in asked.answer()
    assert asked.due() == 0

    # The right repair, a retest that passes: closed by that repair.
    run("repair", job, "contact X1-3", "--did", "pin bent back")
    assert "Contact X1-3 repaired: pin bent back retest due, 8 cells" in asked.answer()
    assert "Q3" not in asked.answer()
    run("retest", job)
    run("mark", job, "switches", "31 32 33")
    assert asked.due() == 5
    run("mark", job, "switches", "34 35 36 37 38")
    assert "Contact X1-3 repaired: pin bent back closed" in asked.answer()
    assert "8 of 8 cells pass: closed by that repair" in run("suspects", job, "1")
    assert "Switch column 3 is open" not in asked.answer()
    assert asked.due() == 0

    # The old slip is struck out, and leaves no lamp that comes and goes.
    assert asked.unsteady() == [3]
    log = json.loads(run("log", job, "--json"))["log"]
    assert any(line["text"] == "walk of switches started over 8 cells" for line in log)
    slip = next(line for line in log if line["text"].startswith("lamp 3 ") and line["text"].endswith("dead"))
    run("undo", job, str(slip["seq"]))
    assert asked.unsteady() == []
    handed_over(run, job, tmp_path)


def handed_over(run: Run, job: str, tmp_path: Path) -> None:
    """What is handed over says the same, and the job goes to another book whole."""
    run("job", "close", job, "switches in order; lamps to do")
    run("report", job, "--to", str(tmp_path / "sheet.json"))
    sheet = json.loads((tmp_path / "sheet.json").read_text())
    assert [(one["place"], one["outcome"]) for one in sheet["repairs"]] == [("Q3", "failed"), ("X1-3", "passed")]
    assert [one["passed"] for one in sheet["safety"]] == [False, True]
    assert sheet["job"]["verdict"] == "switches in order; lamps to do"
    run("job", "export", job, str(tmp_path / "job.jsonl"))
    run("job", "import", str(tmp_path / "job.jsonl"), "--book", str(tmp_path / "other.book"))
    assert run("status", job, "--book", str(tmp_path / "other.book")) == run("status", job)
