"""The checks before power: listed, measured, waived, and loud as long as one has failed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from record_case import recorded, state_after

from matrixcheck.cli.main import main
from matrixcheck.errors import UsageError
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.record.earth_limit import Limit
from matrixcheck.record.events import JobOpened, SafetyChecked
from matrixcheck.record.replay import replay
from matrixcheck.record.safety_checks import USUAL, checklist, counts, failed_checks, measured

Run = Callable[..., str]
ITEMS = ["mains lead", "Mains  Lead", "earth bond: door", "insulation", "plug X5", "own check"]


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
    return run("job", "new", "saltmarsh-tram", "--name", "invented").strip()


def test_a_layout_adds_its_fuses_and_plugs_one_by_one() -> None:
    tram = read_layout(find_layout("saltmarsh-tram"))
    opened = recorded()[0]._replace(event=JobOpened(name="x", layout=tram))
    items = [one.item for one in checklist(replay([opened]))]
    refs = {ref.partition("-")[0] for ref in (*tram.lines_through, *tram.part_by_ref)}
    assert {item for item in items if item.startswith("plug X")} == {f"plug {ref}" for ref in refs if ref[0] == "X"}
    assert {item for item in items if item.startswith("fuse ")} == {f"fuse {ref}" for ref in refs if ref[0] == "F"}
    assert not {"plugs", "other fuses"} & {*items}
    assert items.index("plug X2") < items.index("plug X10")
    assert "plug X5" in [one.item for one in checklist(state_after())]


CHECKS = st.builds(
    SafetyChecked,
    item=st.sampled_from(ITEMS),
    passed=st.booleans(),
    note=st.sampled_from(["", "taps at 120"]),
) | st.builds(
    SafetyChecked, item=st.sampled_from(ITEMS), passed=st.just(False), note=st.just("x"), waived=st.just(True)
)


@given(st.lists(CHECKS, max_size=12))
def test_each_check_counts_once_by_its_last_word(events: list[SafetyChecked]) -> None:
    state = state_after(*events)
    items = checklist(state)
    last = {" ".join(one.item.lower().split()): one for one in events}
    failed = {name for name, one in last.items() if not (one.passed or one.waived)}
    count = counts(items)
    assert sum(count) == len(items)
    assert count.failed == len(failed) == len(failed_checks(state.safety))
    assert count.passed == sum(one.passed for one in last.values())
    assert count.waived == sum(one.waived for one in last.values())
    assert {" ".join(one.item.lower().split()) for one in items if one.outcome == "failed"} == failed
    assert len(items) >= len(USUAL) - 2


@pytest.mark.parametrize(
    ("item", "reading", "passed"),
    [
        ("earth bond: door", 0.1649, True),
        ("earth bond", 0.165, True),
        ("earth bond: legs", 0.1651, False),
        ("insulation", 1.0, True),
        ("insulation", 0.99, False),
    ],
)
def test_a_reading_is_judged_by_its_limit_and_says_so(item: str, reading: float, passed: bool) -> None:
    made = measured(item, reading, Limit(0.1 + 0.065, "the lead"), "moved")
    assert (made.passed, made.reading) == (passed, reading)
    assert made.unit == ("megohms" if item == "insulation" else "ohms")
    assert made.note.endswith("; moved")
    assert f"{reading:.3g}" in made.note


def test_what_is_not_measured_or_has_no_limit_is_refused() -> None:
    for item, reading, limit in [
        ("mains lead", 0.1, Limit(1, "x")),
        ("earth bond", 0.1, None),
        ("insulation", float("nan"), None),
        ("insulation", -1.0, None),
    ]:
        with pytest.raises(UsageError):
            measured(item, reading, limit)


def test_a_failed_check_is_loud_until_it_is_passed_or_waived(run: Run, job: str) -> None:
    run("mark", job, "switches", "31-")
    run("repair", job, "Q3")
    assert "FAILED" not in run("status", job)
    assert run("safety", job, "Mains Voltage", "fail", "--note", "taps at 120") == "kept  mains voltage FAILED\n"
    loud = "! safety check FAILED: mains voltage (taps at 120)"
    for words in (["status", job], ["job", "show", job], ["retest", job]):
        assert loud in run(*words).splitlines()[0]
    assert "FAILED" in run("report", job, "--seconds", "0.001")
    run("safety", job, "mains voltage", "pass")
    assert "FAILED" not in run("status", job)
    run("safety", job, "mains voltage", "fail")
    assert "the reason is empty" in run("safety", job, "mains voltage", "waive", code=2)
    run("safety", job, "mains voltage", "waive", "--reason", "no transformer")
    assert "FAILED" not in run("status", job)
    assert "there is no check" in run("safety", job, "mains voltages", "waive", "--reason", "x", code=2)


def test_the_list_counts_open_failed_passed_and_waived_apart(run: Run, job: str) -> None:
    count = json.loads(run("safety", job, "--json"))["counts"]
    assert (count["failed"], count["passed"], count["waived"]) == (0, 0, 0)
    run("safety", job, "mains lead", "pass")
    run("safety", job, "plug x5", "fail")
    run("safety", job, "batteries", "waive", "--reason", "none fitted")
    run("safety", job, "earth bond: door", "0.14", "--lead", "2.5x0.75")
    run("safety", job, "Earth Bond:  Rails", "0.4", "--limit", "0.5")
    told = json.loads(run("safety", job, "--json"))
    assert told["counts"] == {"open": count["open"] - 3, "failed": 1, "passed": 3, "waived": 1}
    by_item = {one["item"]: one for one in told["safety"]}
    assert by_item["earth bond: door"]["limit"] == pytest.approx(0.165, rel=1e-9)
    assert by_item["earth bond: rails"]["source"] == "set by hand"
    assert by_item["plug X5"]["outcome"] == "failed"
    lines = run("safety", job).splitlines()
    assert lines[0] == f"{count['open'] - 3} open, 1 FAILED, 3 passed, 1 waived"
    assert lines[3].startswith("plug X5")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["mains lead"], "one result"),
        (["mains lead", "pass", "--failed"], "one result"),
        (["mains lead", "0.1"], "not measured"),
        (["earth bond", "good"], "mains lead"),
        (["earth bond", "0.1"], "the limit depends on the mains lead"),
        (["earth bond", "0.1", "--lead", "3x2"], "no core of a mains lead"),
        (["earth bond", "0.1", "--limit", "-1"], "a limit is"),
        (["insulation", "much"], "is not a result"),
    ],
)
def test_what_is_no_result_is_refused_in_one_line(run: Run, job: str, words: list[str], says: str) -> None:
    said = run("safety", job, *words, code=2)
    assert says in said
    assert said.count("\n") == 1
    assert json.loads(run("safety", job, "--json"))["counts"]["open"] == len(
        json.loads(run("safety", job, "--json"))["safety"]
    )
