"""Glow that is normal on a machine: once accepted nothing counts it, whatever else the lamp does still counts."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_case import LAMP_CELLS, LAYOUT, at, marked, state_after

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.answers import summary
from matrixcheck.record.events import Accepted, Event, Read, Repaired
from matrixcheck.record.strikes import strike_of
from matrixcheck.record.summary import coverage_of

Run = Callable[..., str]
GLOW = LAMP_CELLS[1]
OTHERS = [key for key in LAMP_CELLS if key != GLOW]
SOME = st.lists(st.sampled_from(OTHERS), unique=True, max_size=3).map(tuple)


def scan(*shown: CellKey) -> Read:
    """A rest scan of the lamps."""
    return Read(reading=Reading(matrix="lamps", answered=shown))


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command; what it printed, its error line for one that must fail."""
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "bench.book"))
    monkeypatch.setenv("COLUMNS", "100")

    def ran(*words: str, code: int = 0) -> str:
        assert main([*words]) == code
        shown = capsys.readouterr()
        return shown.err if code else shown.out

    return ran


@pytest.fixture
def job(run: Run) -> str:
    return run("job", "new", "saltmarsh-tram", "--name", "invented", "--serial", "INVENTED-5").strip()


@st.composite
def without_and_with_glow(draw: st.DrawFn) -> tuple[list[Event], list[Event]]:
    """Readings of lamps as they would be without the glow, and with it planted wherever it then shows."""
    plain: list[Event] = []
    planted: list[Event] = []
    for _ in range(draw(st.integers(0, 8))):
        match draw(st.sampled_from(["scan", "exercise", "mark", "stuck"])):
            case "scan":
                shown = draw(SOME)
                plain.append(scan(*shown))
                planted.append(scan(*shown, GLOW))
            case "exercise":
                cell, shown = draw(st.sampled_from(OTHERS)), draw(SOME)
                one = Reading(matrix="lamps", cell=cell, answered=shown)
                plain.append(Read(reading=one))
                planted.append(Read(reading=Reading(matrix="lamps", cell=cell, answered=(*shown, GLOW))))
            case "mark":
                event = marked(draw(st.sampled_from(LAMP_CELLS)), draw(st.sampled_from([Mark.WORKING, Mark.DEAD])))
                plain.append(event)
                planted.append(event)
            case _:
                planted.append(marked(GLOW, Mark.STUCK))
    return plain, planted


@given(without_and_with_glow())
def test_accepted_glow_is_judged_as_if_it_had_never_shown(events: tuple[list[Event], list[Event]]) -> None:
    plain, planted = (state_after(*one) for one in events)
    accepted = state_after(*events[1], Accepted(cell=GLOW))
    assert accepted.judged == plain.current
    assert accepted.current == planted.current
    assert summary(accepted).failing == summary(plain).failing
    counts, before = coverage_of(accepted)["lamps"], coverage_of(plain)["lamps"]
    assert (counts.dead, counts.stuck, counts.total) == (before.dead, before.stuck, before.total)
    assert counts.working + counts.dead + counts.stuck + counts.untested + counts.normal == counts.total
    assert counts.normal == (accepted.standings[GLOW].mark is Mark.STUCK)


@pytest.mark.parametrize("glow", [scan(GLOW), marked(GLOW, Mark.STUCK)])
def test_a_lamp_that_was_dead_before_it_glowed_is_dead_though_its_glow_is_normal(glow: Read) -> None:
    state = state_after(marked(GLOW, Mark.DEAD), glow, Accepted(cell=GLOW))
    assert state.standings[GLOW].mark is Mark.DEAD
    assert state.standings[GLOW].fails


def test_what_differs_from_the_glow_counts_again() -> None:
    glows = (scan(GLOW), Accepted(cell=GLOW, note="LED"))
    assert not state_after(*glows).standings[GLOW].fails
    for event, fails in [
        (marked(GLOW, Mark.DEAD), True),
        (marked(GLOW, Mark.WORKING), False),
        (scan(), False),
        (scan(GLOW, OTHERS[0]), False),
    ]:
        state = state_after(*glows, event)
        assert state.standings[GLOW].fails is fails
        assert not state.standings[GLOW].normal or GLOW in state.at_rest["lamps"].stuck
    assert state_after(*glows, scan(GLOW, OTHERS[0])).standings[OTHERS[0]].fails
    back = state_after(*glows, Accepted(cell=GLOW, back=True))
    assert back.standings[GLOW].fails
    assert back.judged == back.current


def test_an_accepted_lamp_that_works_on_its_own_command_does_not_come_and_go() -> None:
    events = (marked(GLOW, Mark.STUCK), marked(GLOW, Mark.WORKING))
    assert state_after(*events).standings[GLOW].intermittent
    assert not state_after(*events, Accepted(cell=GLOW)).standings[GLOW].intermittent
    unsteady = (*events, marked(GLOW, Mark.DEAD), Accepted(cell=GLOW))
    assert state_after(*unsteady).standings[GLOW].intermittent


def test_a_retest_that_finds_only_accepted_glow_passes() -> None:
    events = (scan(GLOW), Accepted(cell=GLOW), Repaired(place=str(GLOW)))
    due = state_after(*events)
    assert due.standings[GLOW].retest_due is not None
    assert due.standings[GLOW].mark is Mark.UNTESTED
    assert state_after(*events, marked(GLOW, Mark.STUCK)).repairs[-1].outcome == "passed"
    assert state_after(*events, marked(GLOW, Mark.DEAD)).repairs[-1].outcome == "failed"


def test_only_a_lamp_that_glows_at_rest_is_accepted(run: Run, job: str) -> None:
    for words, says in [
        (["lamps", "7"], "lamp 7 (left special) stands untested, not lit at rest"),
        (["switches", "21"], "is no lamp"),
        (["coils", "3"], "is no lamp"),
        (["lamps", "7", "--back"], "nothing of lamp 7"),
        (["lamps", "99"], "99"),
    ]:
        said = run("accept", job, *words, code=3 if words[1] == "99" else 2)
        assert says in said
        assert said.count("\n") == 1
    run("mark", job, "lamps", "7*", "8")
    assert "stands working" in run("accept", job, "lamps", "7", "8", code=2)
    assert json.loads(run("job", "show", job, "--json"))["coverage"]["lamps"]["normal"] == 0


def test_accepted_glow_is_in_no_count_answer_or_report_and_on_the_card(run: Run, job: str) -> None:
    run("rest", job, "lamps", "7")
    run("mark", job, "lamps", "1", "2", "3", "4", "5", "6", "8")
    before = json.loads(run("suspects", job, "--json"))["answer"]
    assert before["cards"]
    said = run("accept", job, "lamps", "7", "--note", "LED on a keep-warm resistor")
    assert said.startswith("kept  lamp 7 ")
    assert said.endswith("glows at rest: normal here\n")
    answer = json.loads(run("suspects", job, "--json"))["answer"]
    assert answer["cards"] == []
    counts = json.loads(run("status", job, "--json"))["coverage"]["lamps"]
    assert (counts["stuck"], counts["normal"]) == (0, 1)
    assert "normal glow" in run("status", job)
    assert json.loads(run("job", "list", "--json"))["jobs"][0]["failing"] == 0
    report = " ".join(run("report", job).split())
    assert "1 glows without being faulty" in report
    assert "always on" not in report
    card = run("report", job, "--card", "--to", "-.html")
    assert "Glows at rest, accepted as normal here: lamp 7 (LED on a keep-warm resistor)." in card.replace(
        "\N{NO-BREAK SPACE}", " "
    )
    run("accept", job, "lamps", "7", "--back")
    assert json.loads(run("suspects", job, "--json"))["answer"] == before
    assert json.loads(run("status", job, "--json"))["coverage"]["lamps"]["stuck"] == 1


def test_the_next_visit_starts_with_what_was_accepted(run: Run, job: str, tmp_path: Path) -> None:
    run("rest", job, "lamps", "7", "9")
    run("accept", job, "lamps", "7", "9", "--note", "LED")
    run("accept", job, "lamps", "9", "--back")
    again = run("job", "again", "INVENTED-5").strip()
    assert json.loads(run("status", again, "--json"))["coverage"]["lamps"]["untested"] == 60
    run("rest", again, "lamps", "7", "9")
    counts = json.loads(run("status", again, "--json"))["coverage"]["lamps"]
    assert (counts["stuck"], counts["normal"]) == (1, 1)
    assert "lamps 7" not in run("job", "compare", again)
    run("job", "export", again, str(tmp_path / "job.jsonl"))
    run("job", "import", str(tmp_path / "job.jsonl"), "--book", str(tmp_path / "other.book"))
    assert run("status", again, "--book", str(tmp_path / "other.book")) == run("status", again)


def test_striking_out_an_acceptance_says_that_its_lamp_counts_again() -> None:
    state = state_after(scan(GLOW), Accepted(cell=GLOW), marked(GLOW, Mark.STUCK), marked(GLOW, Mark.WORKING))
    found = strike_of(state, 3)
    assert (found.cells, found.beyond) == ((GLOW,), ())


def test_accepting_is_undone_and_redone(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(LAYOUT, "invented")
    bench.rest_scan(job, "lamps", "12")
    bench.accept(job, [at(1, 2, "lamps")], "LED")
    assert bench.state(job).standings[GLOW].normal
    bench.undo(job)
    assert bench.state(job).standings[GLOW].fails
    bench.redo(job)
    assert bench.state(job).standings[GLOW].normal
    bench.close()
