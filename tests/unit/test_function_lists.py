"""The rest of the test mode: lists of lines, each good, faulty, coming and going, not fitted, or untested."""

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
from matrixcheck.record.coil_lock import SWITCH_OFF_NOW
from matrixcheck.record.events import FunctionChecked, JobOpened
from matrixcheck.record.function_lists import SECTIONS, USUAL, function_counts, function_lists, lines_named
from matrixcheck.record.replay import replay

Run = Callable[..., str]
OWN = """
[[check]]
section = "sound"
text = "knocker"
place = "backbox"
[[check]]
section = "before power"
text = "fan guard"
[[check]]
section = "sound"
text = "Speakers"
place = "two in the backbox, one in the cabinet"
"""
LINES = [("sound", "speakers"), ("sound", " Speakers"), ("sound", "bell"), ("flippers", "hold"), ("play test", "tilt")]
CHECKS = st.builds(
    lambda line, verdict, note: FunctionChecked(section=line[0], item=line[1], verdict=verdict, note=note),
    st.sampled_from(LINES),
    st.sampled_from(["good", "faulty", "comes and goes", "not fitted"]),
    st.sampled_from(["", "hums"]),
)


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
    return run("job", "new", "saltmarsh-tram", "--name", "invented", "--serial", "INVENTED-3").strip()


@given(st.lists(CHECKS, max_size=12))
def test_each_line_stands_as_it_was_judged_last_and_the_rest_is_untested(
    events: list[FunctionChecked],
) -> None:
    lines = function_lists(state_after(*events))
    last = {(one.section, one.item.strip().lower()): one.verdict for one in events}
    stands = {(one.section, one.item.strip().lower()): one.outcome for one in lines}
    usual = {(section, item) for section in SECTIONS for item, _ in USUAL[section]}
    assert stands == {line: last.get(line, "untested") for line in usual | {*last}}
    assert len(lines) == len(stands) == sum(function_counts(lines))
    assert function_counts(lines).good == sum(verdict == "good" for verdict in last.values())
    assert [one.section for one in lines] == sorted((one.section for one in lines), key=SECTIONS.index)


def test_a_layout_adds_lines_and_says_more_of_usual_ones() -> None:
    layout = parse_layout(find_layout("saltmarsh-tram").read_text() + OWN, "own")
    lines = function_lists(replay([recorded()[0]._replace(event=JobOpened(name="x", layout=layout))]))
    sound = [(one.item, one.about) for one in lines if one.section == "sound"]
    assert [item for item, _ in sound] == ["speakers", "sounds", "volume", "knocker"]
    assert sound[0][1] == f"two in the backbox, one in the cabinet; {USUAL['sound'][0][1]}"
    assert sound[3][1] == "backbox"
    assert "fan guard" not in {one.item for one in lines}


def test_a_line_goes_by_its_name_with_or_without_its_list_and_a_list_names_what_is_untested() -> None:
    lines = function_lists(state_after(FunctionChecked(section="flippers", item="speakers", verdict="good")))
    assert [one.name for one in lines_named("Sounds", lines)] == ["sound: sounds"]
    assert [one.name for one in lines_named("sound:  speakers", lines)] == ["sound: speakers"]
    assert [one.name for one in lines_named("flippers", lines)] == [
        "flippers: strength", "flippers: hold", "flippers: return"
    ]  # fmt: skip
    assert [one.name for one in lines_named("sound: bell", lines)] == ["sound: bell"]
    for text, says in [("speakers", "several lists"), ("bell", "no list has"), ("sound: ", "no list has")]:
        with pytest.raises(UsageError, match=says):
            lines_named(text, lines)


def test_the_lists_stand_in_status_and_report_and_what_is_untested_is_never_good(run: Run, job: str) -> None:
    assert run("checklist", job, "sound", "good") == ("kept  3 good: sound: speakers, sound: sounds, sound: volume\n")
    assert run("checklist", job, "sound: knocker", "faulty", "--note", "silent") == "kept  sound: knocker FAULTY\n"
    assert run("checklist", job, "flicker", "flickers") == "kept  lighting: flicker comes and goes\n"
    assert run("checklist", job, "tilt", "not-fitted") == "kept  play test: tilt not fitted\n"
    status = run("status", job)
    for line in [
        "displays   2 not tested",
        "sound      3 good, 1 FAULTY",
        "lighting   1 comes and goes, 1 not tested",
        "play test  1 not fitted, 5 not tested",
    ]:
        assert line in status
    lists = json.loads(run("status", job, "--json"))["lists"]
    assert lists["sound"] == {"untested": 0, "good": 3, "faulty": 1, "comes_and_goes": 0, "not_fitted": 0}
    told = json.loads(run("checklist", job, "--json"))
    assert told["counts"] == lists
    knocker = next(one for one in told["lines"] if one["line"] == "knocker")
    assert (knocker["list"], knocker["outcome"], knocker["note"]) == ("sound", "faulty", "silent")
    said = " ".join(run("report", job, "--seconds", "0.001").split())
    assert "Of the rest of the test mode: 3 good, 1 FAULTY, 1 comes and goes, 1 not fitted, 12 not tested." in said
    assert "Sound: knocker faulty (silent)." in said
    assert "Not tested in the rest of the test mode: displays, lighting (1 of 2 lines)" in said
    assert "brightness NOT TESTED" in said
    assert "sound: knocker FAULTY (silent)" in run("log", job)


def test_undo_redo_export_and_import_keep_the_lists(run: Run, job: str, tmp_path: Path) -> None:
    run("checklist", job, "flippers", "good")
    run("checklist", job, "hold", "faulty", "--note", "hums")
    before = run("checklist", job, "--json")
    run("undo", job)
    assert '"hums"' not in run("checklist", job, "--json")
    run("redo", job)
    assert run("checklist", job, "--json") == before
    run("job", "export", job, str(tmp_path / "job.jsonl"))
    run("job", "import", str(tmp_path / "job.jsonl"), "--book", str(tmp_path / "other.book"))
    assert run("checklist", job, "--json", "--book", str(tmp_path / "other.book")) == before


def test_two_visits_are_compared_line_by_line(run: Run, job: str) -> None:
    run("checklist", job, "sound", "good")
    run("checklist", job, "sound: bell", "faulty")
    again = run("job", "again", "INVENTED-3").strip()
    run("checklist", again, "speakers", "good")
    run("checklist", again, "volume", "faulty")
    lines = [line.split() for line in run("job", "compare", again).splitlines()]
    assert ["sound", "volume", "good", "FAULTY"] in lines
    assert ["sound", "sounds", "good", "not", "tested"] in lines
    assert ["sound", "bell", "FAULTY", "not", "on", "the", "list"] in lines
    assert not any("speakers" in line for line in lines)


def test_a_coil_on_at_rest_comes_before_the_lists(run: Run, job: str) -> None:
    run("mark", job, "coils", "3*")
    said = run("checklist", job)
    assert SWITCH_OFF_NOW in " ".join(said.split())
    assert "not tested" not in said


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["sound"], "checklist needs a result"),
        (["sound", "bad"], "'bad' is not a result"),
        (["knoker", "good"], "no list has a line 'knoker'"),
        (["before power: x", "good"], "no list has a line"),
        (["", "good"], "the line is empty"),
    ],
)
def test_what_is_no_line_or_result_is_refused_in_one_line(run: Run, job: str, words: list[str], says: str) -> None:
    said = run("checklist", job, *words, code=2)
    assert says in said
    assert said.count("\n") == 1
    assert sum(one["untested"] for one in json.loads(run("checklist", job, "--json"))["counts"].values()) == len(
        function_lists(state_after())
    )
