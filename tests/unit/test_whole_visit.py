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


def test_a_visit_from_before_power_to_the_report(run: Run, tmp_path: Path) -> None:
    job = run("job", "new", "saltmarsh-tram", "--name", "Invented tram", "--serial", "INVENTED-9").strip()

    # Before power: a check fails, is loud, and is cured.
    run("safety", job, "earth bond: door", "2.4", "--lead", "2.5x0.75")
    assert run("status", job).startswith("! safety check FAILED: earth bond: door (2.4 ohms, at most 0.165")
    run("safety", job, "earth bond: door", "0.12", "--lead", "2.5x0.75", "--note", "strap fitted")
    assert json.loads(run("safety", job, "--json"))["counts"]["failed"] == 0
    assert "FAILED" not in run("status", job)

    # Rounds: column 3 is dead; its neighbours work. One lamp is marked wrongly, an old slip.
    run("rest", job, "switches", "11", "12", "13", "14")
    run("mark", job, "switches", "c3-", "21", "22", "23", "41", "42", "43")
    run("mark", job, "lamps", "1", "2", "3-", "4")
    run("mark", job, "lamps", "3")

    def shared() -> list[str]:
        """The places at which a shared fault sits, of the answer's first card."""
        cards = json.loads(run("suspects", job, "--json"))["answer"]["cards"]
        return [card["title"] for card in cards if card["kind"] == "shared fault"]

    assert any("column 3" in title for title in shared())

    # A check, a wrong repair, a retest that fails: open again.
    run("finding", job, "q3", "good", "--note", "diode test")
    said = run("repair", job, "q3", "--did", "replaced all the same")
    assert "8 cells are due" in said
    assert run("retest", job).startswith("round of switches started over 8 cells")
    assert not any("column 3" in title for title in shared())
    run("mark", job, "switches", "c3-")
    assert any("column 3" in title for title in shared())

    # The right repair, a retest that passes: closed by that repair.
    run("repair", job, "contact X1-3", "--did", "pin bent back")
    run("mark", job, "switches", "c3")
    assert not any("column 3" in title for title in shared())

    # The old slip is struck out, and leaves no lamp that comes and goes.
    lamp = next(
        cell
        for matrix in json.loads(run("job", "show", job, "--json"))["matrices"]
        for cell in matrix["cells"]
        if matrix["id"] == "lamps" and cell["number"] == 3
    )
    assert lamp["intermittent"]
    log = json.loads(run("log", job, "--json"))["log"]
    slip = next(line for line in log if line["text"].startswith("lamp 3 ") and line["text"].endswith("dead"))
    run("undo", job, str(slip["seq"]))
    assert not any(
        cell["intermittent"]
        for matrix in json.loads(run("job", "show", job, "--json"))["matrices"]
        for cell in matrix["cells"]
    )

    # What is handed over says the same, and the job goes to another book whole.
    run("job", "close", job, "switches in order; lamps to do")
    run("report", job, "--to", str(tmp_path / "sheet.json"))
    sheet = json.loads((tmp_path / "sheet.json").read_text())
    assert [(one["place"], one["outcome"]) for one in sheet["repairs"]] == [("Q3", "failed"), ("X1-3", "passed")]
    assert [one["passed"] for one in sheet["safety"]] == [False, True]
    assert sheet["job"]["verdict"] == "switches in order; lamps to do"
    run("job", "export", job, str(tmp_path / "job.jsonl"))
    run("job", "import", str(tmp_path / "job.jsonl"), "--book", str(tmp_path / "other.book"))
    assert run("status", job, "--book", str(tmp_path / "other.book")) == run("status", job)
