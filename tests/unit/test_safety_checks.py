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
from matrixcheck.layout.files import find_layout, parse_layout
from matrixcheck.layout.model import Check
from matrixcheck.record.checks_named import checks_named
from matrixcheck.record.earth_limit import Limit
from matrixcheck.record.events import JobOpened, SafetyChecked
from matrixcheck.record.replay import replay
from matrixcheck.record.safety_checks import USUAL, SafetyItem, checklist, counts, failed_checks, measured
from tests.machines import saltmarsh_tram

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
    tram = saltmarsh_tram()
    opened = recorded()[0]._replace(event=JobOpened(name="x", layout=tram))
    items = [one.item for one in checklist(replay([opened]))]
    refs = {ref.partition("-")[0] for ref in (*tram.lines_through, *tram.part_by_ref)}
    assert {item for item in items if item.startswith("plug X")} == {f"plug {ref}" for ref in refs if ref[0] == "X"}
    assert {item for item in items if item.startswith("fuse ")} == {f"fuse {ref}" for ref in refs if ref[0] == "F"}
    assert not {"plugs", "other fuses"} & {*items}
    assert items.index("plug X2") < items.index("plug X10")
    assert "plug X5" in [one.item for one in checklist(state_after())]


OWN = """
[[check]]
section = "before power"
text = "earth bond: lock bar"
place = "front"
[[check]]
section = "before power"
text = "5 V rail"
unit = "volts"
least = 4.9
most = 5.2
[[check]]
section = "before power"
text = "Insulation"
unit = "megohms"
least = 2
[[check]]
section = "sound"
text = "knocker"
"""


def test_a_layout_adds_lines_of_its_own_in_the_order_of_the_work() -> None:
    text = find_layout("saltmarsh-tram").read_text()
    opened = recorded()[0]._replace(event=JobOpened(name="x", layout=parse_layout(text + OWN, "own")))
    items = checklist(replay([opened, *recorded(SafetyChecked(item="earth bond: door", passed=True))[1:]]))
    names = [one.item for one in items]
    assert names.index("polarity") + 1 == names.index("earth bond: lock bar") == names.index("earth bond: door") - 1
    assert "earth bond" not in names
    assert "knocker" not in names
    assert names.index("5 V rail") == names.index("first power-up") - 1 == len(names) - 2
    assert names.index("mains voltage") < names.index("fuse F1") < names.index("plug X1") < names.index("loose parts")
    insulation = items[names.index("insulation")]
    assert not measured(insulation, 1.5, None).passed
    assert "a trained person" in insulation.about
    assert "front" in items[names.index("earth bond: lock bar")].about


@pytest.mark.parametrize(
    ("reading", "passed", "limit"),
    [(4.9, True, 5.2), (5.2, True, 5.2), (4.89, False, 4.9), (5.21, False, 5.2), (0.0, False, 4.9)],
)
def test_a_line_of_the_layout_is_held_to_its_own_limits(reading: float, passed: bool, limit: float) -> None:
    line = Check(section="before power", text="5 V rail", unit="volts", least=4.9, most=5.2)
    made = measured(SafetyItem("5 V rail", "", line=line), reading, None)
    assert (made.passed, made.limit, made.unit, made.source) == (passed, limit, "volts", "the layout")
    assert made.note == f"{reading:.3g} volts, 4.9 to 5.2 (the layout)"


def test_every_item_of_the_review_stands_on_the_usual_list() -> None:
    """Common practice, no source; insulation and the earth core by the general principle of appliance testing."""
    about = dict(USUAL)
    for item, words in [
        ("mains lead", ["no tape", "three cores", "cord grip", "no bare copper"]),
        ("plug wiring", ["fused conductor is the live one", "earth at their pins"]),
        ("polarity", ["line pin to fuse and switch about zero", "goes in both ways", "licensed person"]),
        ("earth bond", ["each exposed metal part", "lead moved", "lock bar", "coin mech", "playfield metal"]),
        ("insulation", ["trained person", "500 V DC", "1 megohm", "leakage"]),
        ("mains fuse", ["T or F", "breaking capacity", "in the plug as well", "no foil"]),
        ("mains voltage", ["taps", "frequency"]),
        ("other fuses", ["not by what is in it", "clips tight"]),
        ("plugs", ["off, askew or a pin aside", "like plugs not exchanged"]),
        ("loose parts", ["on or under a board"]),
        ("batteries", ["none leaks", "under the boards"]),
        ("door interlock", ["not wedged"]),
        ("service socket", ["live with the switch off"]),
        ("glass and backbox", ["latched"]),
        ("first power-up", ["coil fuse out", "switches and lamps first", "residual-current device", "series bulb"]),
    ]:
        assert [each for each in words if each not in about[item]] == []


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
    made = measured(SafetyItem(item, ""), reading, Limit(0.1 + 0.065, "the lead"), "moved")
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
            measured(SafetyItem(item, ""), reading, limit)


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


PLUGS = st.sampled_from(range(1, 18))


@given(st.lists(st.tuples(PLUGS, PLUGS), min_size=1, max_size=3))
def test_plugs_are_named_alone_in_runs_and_in_lists_like_a_plain_count(runs: list[tuple[int, int]]) -> None:
    tram = saltmarsh_tram()
    items = checklist(replay([recorded()[0]._replace(event=JobOpened(name="x", layout=tram))]))
    there = {int(one.ref[1:]) for one in items if one.one_of == "plugs"}
    wanted = [there & {*range(first, last + 1)} for first, last in runs]
    text = ", ".join(f"x{first}" if first == last else f"X{first}-X{last}" for first, last in runs)
    if all(wanted):
        named = checks_named(text, items)
        assert {one.item for one in named.items} == {f"plug X{count}" for count in set.union(*wanted)}
        assert named.several == (len(named.items) > 1)
    else:
        with pytest.raises(UsageError, match="has no plug"):
            checks_named(text, items)


def test_several_plugs_pass_in_one_line_and_one_that_failed_stays_failed(run: Run, job: str) -> None:
    run("safety", job, "X5", "fail", "--note", "pin 4 aside")
    said = run("safety", job, "X1-X9", "pass")
    assert said.startswith("kept  6 passed: plug X1, plug X2, plug X6")
    by_item = {one["item"]: one for one in json.loads(run("safety", job, "--json"))["safety"]}
    assert (by_item["plug X5"]["outcome"], by_item["plug X5"]["note"]) == ("failed", "pin 4 aside")
    assert "none of 'X1-X9' is open" in run("safety", job, "X1-X9", "pass", code=2)
    run("safety", job, "plugs", "pass")
    run("safety", job, "fuses", "waive", "--reason", "all new")
    counts = json.loads(run("safety", job, "--json"))["counts"]
    assert (counts["failed"], counts["waived"]) == (1, 8)
    run("safety", job, "X5", "pass")
    assert json.loads(run("safety", job, "--json"))["counts"]["failed"] == 0
    log = run("log", job)
    run("undo", job, "--yes")
    assert json.loads(run("safety", job, "--json"))["counts"]["failed"] == 1
    assert len(run("log", job).splitlines()) == len(log.splitlines()) + 1


def test_a_layout_without_plugs_takes_those_that_are_named(run: Run) -> None:
    job = run("job", "new", "switch-8x8", "--name", "invented").strip()
    assert run("safety", job, "X1-X3", "pass") == "kept  3 passed: plug X1, plug X2, plug X3\n"
    run("safety", job, "x2", "fail", "--note", "off")
    by_item = {one["item"]: one["outcome"] for one in json.loads(run("safety", job, "--json"))["safety"]}
    assert [by_item[f"plug X{count}"] for count in (1, 2, 3)] == ["passed", "failed", "passed"]


@pytest.mark.parametrize(
    ("printed", "passed"),
    [
        ("6.3 A T", True),
        ("T6,3A 250 V", True),
        ("6300 mA slow", True),
        ("6.3 A F", False),
        ("5 A T", False),
        ("10 A T", False),
    ],
)
def test_a_fuse_is_held_to_the_rating_of_the_layout(run: Run, job: str, printed: str, passed: bool) -> None:
    said = run("safety", job, "F2", "--found", printed)
    assert said == f"kept  fuse F2 {'passed' if passed else 'FAILED'}: found {printed}, due 6.3 A T\n"


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
        (["X99", "pass"], "the layout has no plug 'X99'"),
        (["F9-F12", "pass"], "the layout has no fuse 'F9-F12'"),
        (["X9-X1", "pass"], "the layout has no plug"),
        (["X1-X9", "fail"], "fail one at a time"),
        (["plugs", "0.2"], "measure one at a time"),
        (["F2", "--found", "green"], "names no amps"),
        (["F2", "--found", "6.3 A"], "slow or fast"),
        (["X5", "--found", "6.3 A T"], "is no fuse"),
        (["F2", "pass", "--found", "6.3 A T"], "one result"),
        (["fuses", "--found", "6.3 A T"], "fill one at a time"),
    ],
)
def test_what_is_no_result_is_refused_in_one_line(run: Run, job: str, words: list[str], says: str) -> None:
    said = run("safety", job, *words, code=2)
    assert says in said
    assert said.count("\n") == 1
    assert json.loads(run("safety", job, "--json"))["counts"]["open"] == len(
        json.loads(run("safety", job, "--json"))["safety"]
    )
