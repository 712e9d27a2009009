"""Whatever the analyser raises is one line and exit code 5, and a case file gives the same answer again elsewhere."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_case import LAYOUT, LAYOUT_TEXT, at

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.errors import InputError
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.case import Case, case_data, read_case
from tests.samples import some_of

PRIVATE = ("Evening at the pond", "SN-77/12", "Invented Club", "the owner's cat", "sheath cut", "2031-03")
READINGS = (
    Reading(matrix="switches", answered=()),
    Reading(matrix="switches", cell=at(1, 1), held=(at(2, 1),), answered=(at(1, 1), at(2, 1))),
    Reading(matrix="switches", cell=at(1, 2), mark=Mark.DEAD, ohms=3.5, blew="F1"),
    Reading(matrix="doors", cell=at(1, 1, "doors"), mark=Mark.WORKING),
)
FINDINGS = (Finding(place="Q2", verdict="good"), Finding(place="switches.r2c3", verdict="replaced"))
CASE = Case(LAYOUT, READINGS, FINDINGS)


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A job with an owner, a serial number, notes and times, none of which the analyser needs."""
    book = tmp_path / "bench.book"
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(book))
    bench = Bench(book)
    opened = bench.new_job(LAYOUT, "Evening at the pond", serial="SN-77/12", owner="Invented Club")
    bench.mark(opened, "switches", "1 2 4- 5- 6-")
    noted = (
        '{"matrix": "doors", "cell": 1, "mark": "working", "note": "the owner\'s cat", "at": "2031-03-01T18:00:00Z"}'
    )
    (tmp_path / "noted.jsonl").write_text(noted)
    assert main(["mark", opened, "--readings", str(tmp_path / "noted.jsonl")]) == 0
    bench.finding(opened, Finding(place="Q2", verdict="good"), "sheath cut")
    bench.note(opened, "the owner's cat")
    bench.close()
    return opened


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Run a command; its exit code, stdout and stderr."""

    def run(*words: str) -> tuple[int, str, str]:
        capsys.readouterr()
        return (main([*words]), *capsys.readouterr())

    return run


def endless() -> None:
    endless()


def missing() -> None:
    raise KeyError(LAYOUT)


def too_much() -> None:
    raise MemoryError


def overflow() -> None:
    raise OverflowError("int too large to convert to float\nsecond line")


BREAKS = (endless, missing, too_much, overflow)
ANALYSING = ("suspects JOB", "suspects JOB --json", "report JOB", "report JOB --to HERE/x.html",
             "diagnose HERE/l.toml HERE/noted.jsonl")  # fmt: skip


@pytest.mark.parametrize(("command", "breaks"), some_of(product(ANALYSING, BREAKS), 6))
def test_an_analyser_that_breaks_down_is_one_line_and_exit_code_5(
    command: str,
    breaks: Callable[[], None],
    *,
    job: str,
    said: Callable[..., tuple[int, str, str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "l.toml").write_text(LAYOUT_TEXT)
    monkeypatch.setattr("matrixcheck.diagnosis.diagnose.refine", lambda *_, **__: breaks())
    words = command.replace("JOB", job).replace("HERE", str(tmp_path)).split()
    code, out, err = said(*words)
    assert (code, out, err.count("\n")) == (5, "", 1), err
    assert "the analysis failed" in err
    assert "--case FILE" in err
    assert not (tmp_path / "x").exists()
    case = tmp_path / "case.json"
    code, out, err = said(*words, "--case", str(case))
    assert (code, out, err.count("\n")) == (5, "", 1), err
    assert str(case) in err
    assert read_case(case.read_text(), "x").layout == LAYOUT


def test_the_line_names_what_broke_and_where(
    job: str, said: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("matrixcheck.diagnosis.diagnose.shipped_rates", missing)
    assert "(KeyError in diagnosis/diagnose.py:" in said("suspects", job)[2]


@pytest.mark.parametrize("command", ["status JOB", "job show JOB", "later JOB --json"])
def test_any_other_mistake_of_the_program_is_one_line_and_exit_code_5(
    command: str, job: str, said: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: Bench, _job: str) -> None:
        raise ZeroDivisionError("planted")

    for use in ("status", "later"):
        monkeypatch.setattr(Bench, use, broken)
    code, out, err = said(*command.replace("JOB", job).split())
    assert (code, out, err.count("\n")) == (5, "", 1)
    assert "ZeroDivisionError" in err


def test_a_case_gives_the_same_answer_as_the_job_it_came_from(
    job: str, said: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    case = str(tmp_path / "case.json")
    _, from_job, _ = said("suspects", job, "--json", "--case", case)
    code, from_case, err = said("diagnose", case, "--json")
    assert (code, err) == (0, "")
    of_case, of_job = timeless(from_case), timeless(from_job)
    assert of_case.pop("answer")["headline"] == of_job.pop("answer")["headline"]
    assert of_case == of_job
    assert json.loads(from_job)["suspects"]


def timeless(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text)
    del found["searched"]["seconds"]
    return found


def test_a_case_of_coils_measured_warm_is_not_corrected_twice(
    said: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    readings, case = tmp_path / "x.jsonl", str(tmp_path / "case.json")
    readings.write_text('{"matrix": "coils", "cell": 2, "ohms": 5.1}\n')
    _, out, _ = said("diagnose", "saltmarsh-tram", str(readings), "--celsius", "75", "--case", case, "--json")
    assert timeless(said("diagnose", case, "--json")[1]) == timeless(out)


def test_a_case_names_no_owner_and_holds_no_notes(
    job: str, said: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    case = tmp_path / "case.json"
    assert said("report", job, "--to", str(tmp_path / "all.json"), "--case", str(case))[0] == 0
    everything, kept = (tmp_path / "all.json").read_text(), case.read_text()
    assert [word for word in PRIVATE[:5] if word not in everything] == []
    assert [word for word in PRIVATE if word in kept] == []
    assert {"matrixcheck", "python", "numpy"} <= json.loads(kept)["versions"].keys()


def test_a_case_is_read_back_as_it_was() -> None:
    assert read_case(json.dumps(case_data(CASE, {})), "x") == CASE
    empty = Case(LAYOUT, ())
    assert read_case(json.dumps(case_data(empty, {})), "x") == empty


def test_a_case_needs_a_file_of_its_own(job: str, said: Callable[..., tuple[int, str, str]]) -> None:
    code, out, err = said("suspects", job, "--case", "-")
    assert (code, out, err.count("\n")) == (2, "", 1)


@pytest.mark.parametrize(("words", "code", "says"), [
    ("saltmarsh-tram", 2, "no readings"),
    ("HERE/l.toml", 2, "no readings"),
    ("HERE/none.json", 3, "none.json"),
])  # fmt: skip
def test_a_layout_without_readings_is_no_case(
    words: str, code: int, says: str, said: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    (tmp_path / "l.toml").write_text(LAYOUT_TEXT)
    got, out, err = said("diagnose", words.replace("HERE", str(tmp_path)))
    assert (got, out, err.count("\n")) == (code, "", 1)
    assert says in err


values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=9), inner, max_size=3),
    max_leaves=6,
)


@given(data=st.data())
def test_a_spoilt_case_is_refused_or_still_a_case(data: st.DataObject) -> None:
    """Anywhere in the file something else stands, or is missing: never another error than InputError."""
    body: Any = case_data(CASE, {"python": "3"})
    here, key = body, data.draw(st.sampled_from(sorted(body)))
    while isinstance(here[key], dict | list) and here[key] and data.draw(st.booleans()):
        here = here[key]
        key = data.draw(st.sampled_from(sorted(here) if isinstance(here, dict) else range(len(here))))
    if data.draw(st.booleans()):
        here[key] = data.draw(values)
    else:
        del here[key]
    try:
        read = read_case(json.dumps(body), "spoilt.json")
    except InputError as error:
        refusal = str(error)
    else:
        refusal = ""
    assert "spoilt.json" in refusal or read.layout.matrices


@given(text=st.text() | st.binary().map(lambda raw: raw.decode("latin-1")) | st.just("[" * 100_000))
def test_what_is_no_case_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"x\.json is not a case file"):
        read_case(text, "x.json")
