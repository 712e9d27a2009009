"""Numbers beyond what any machine or meter has: refused in one line wherever they come from, and harmless in a book
that holds them already."""

from __future__ import annotations

import json
import math
import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from record_case import COILS, LAYOUT, START, recorded, state_after

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.coil_resistance import brought_to_20, deviation_words, wrong_ohms
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout import limits
from matrixcheck.layout.files import check_layout, parse_layout
from matrixcheck.layout.frozen import from_json, to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Reading
from matrixcheck.layout.schema import layout_schema
from matrixcheck.record.entry import parse_entries
from matrixcheck.record.events import Read, RoundPaced, RoundStarted, body_of, event_from
from matrixcheck.record.job_state import Pace
from matrixcheck.record.readings import check_reading, read_readings
from matrixcheck.record.validation import guard_pace
from matrixcheck.tui.round_steps import resumed_timing

HUGE = 10**400
NUMBERS = (
    st.floats()
    | st.integers()
    | st.booleans()
    | st.sampled_from([HUGE, -HUGE, 5e-324, -5e-324, 1e308, math.inf, -math.inf, math.nan])
)
KICKER = CellKey("coils", 1, 1)
BANK = """
format = 1
name = "Invented Quay"
[[matrix]]
id = "coils"
kind = "coil"
volts = {volts}
cells = [["kicker"], ["flasher"]]
  [matrix.cell.1]
  ohms = {ohms}
  tolerance = {tolerance}
  [matrix.cell.2]
  device = "flash lamp"
  keep_warm = {{ohms = {resistor}, volts = {supply}}}
[[part]]
ref = "F2"
rate = {rate}
"""
USUAL = {"volts": 24, "ohms": 4.2, "tolerance": 0.1, "resistor": 330, "supply": 24, "rate": 0.01}
LIMITS = {
    "volts": limits.VOLTS,
    "ohms": limits.DUE_OHMS,
    "tolerance": limits.TOLERANCE,
    "resistor": limits.DUE_OHMS,
    "supply": limits.VOLTS,
    "rate": limits.FAILURE_RATE,
}


def toml(value: object) -> str:
    """A number as a TOML file writes it."""
    return str(value).lower()


def bank(**values: object) -> str:
    """A layout of a coil and a flash lamp, with these numbers in it."""
    numbers = {name: toml(value) for name, value in (USUAL | values).items()}
    return BANK.format(**numbers).replace('kind = "coil"', 'kind = "coil"\nsupply = ["F2"]')


def within(limit: limits.Limit, value: Any) -> bool:
    """The same as `Limit.holds`, said another way."""
    if type(value) not in (int, float) or math.isnan(value if type(value) is float else 0):
        return False
    return not (value < limit.least or value > limit.most)


@given(NUMBERS, st.sampled_from([limits.MEASURED_OHMS, limits.TOLERANCE, limits.COIL_CELSIUS, limits.STEP_SECONDS]))
def test_a_limit_holds_just_the_numbers_between_its_ends(value: Any, limit: limits.Limit) -> None:
    assert limit.holds(value) is within(limit, value)


@given(st.text() | st.integers().map(str) | st.sampled_from(["9" * 5000, "0" * 5000 + "7", "٣", "²", "1_0"]))
def test_a_count_is_read_or_is_none(text: str) -> None:
    found = limits.whole_number(text)
    assert found is None or (0 <= found <= limits.LARGEST_NUMBER and str(found) == (text.lstrip("0") or "0"))


@given(st.sampled_from(sorted(LIMITS)), NUMBERS)
@example("ohms", HUGE)
@example("tolerance", 5e-324)
def test_a_number_of_a_layout_is_taken_within_its_limit_and_else_refused_in_one_line(name: str, value: Any) -> None:
    text = bank(**{name: value})
    if within(LIMITS[name], value):
        assert parse_layout(text, "quay").matrix("coils")
        return
    with pytest.raises(InputError) as refused:
        parse_layout(text, "quay")
    told = str(refused.value)
    line = next(count for count, each in enumerate(text.split("\n"), 1) if toml(value) in each)
    assert "\n" not in told
    assert len(told) < 200
    assert told.startswith("quay:")
    assert line <= int(told.split(":")[1])


def bounds_in_schema(definition: str, key: str) -> set[tuple[float, float]]:
    """Every least and most that the schema gives for a key."""
    told = json.loads(layout_schema())["$defs"][definition]["properties"][key]
    ways = told.get("anyOf", [told])
    return {(way["minimum"], way["maximum"]) for way in ways if way["type"] == "number"}


@pytest.mark.parametrize(
    ("definition", "key", "limit"),
    [
        ("Matrix", "volts", limits.VOLTS),
        ("CellNotes", "ohms", limits.DUE_OHMS),
        ("CellNotes", "tolerance", limits.TOLERANCE),
        ("KeepWarm", "ohms", limits.DUE_OHMS),
        ("KeepWarm", "volts", limits.VOLTS),
        ("Part", "rate", limits.FAILURE_RATE),
    ],
)
def test_the_schema_has_the_same_limits(definition: str, key: str, limit: limits.Limit) -> None:
    assert bounds_in_schema(definition, key) == {(limit.least, limit.most)}


def test_the_schema_has_the_same_largest_matrix_and_numbers() -> None:
    matrix = json.loads(layout_schema())["$defs"]["Matrix"]["properties"]
    for key in ("cells", "numbers"):
        assert matrix[key]["maxItems"] == limits.LARGEST_SIDE
    for key in ("row", "column"):
        one_by_one, _ = matrix[key]["anyOf"]
        assert one_by_one["maxItems"] == limits.LARGEST_SIDE
    for key in ("cells", "numbers"):
        assert matrix[key]["items"]["maxItems"] == limits.LARGEST_SIDE
    for items, least in ((matrix["numbers"]["items"]["items"], 0), (matrix["walk"]["items"], 1)):
        plain, text = items["anyOf"]
        assert plain == {"type": "integer", "minimum": least, "maximum": limits.LARGEST_NUMBER}
        assert text["type"] == "string"
        assert re.fullmatch(text["pattern"], "A" * limits.LONGEST_NUMBER)
        assert not re.fullmatch(text["pattern"], "A" * (limits.LONGEST_NUMBER + 1))


@pytest.mark.parametrize("size", [(65, 1), (1, 65), (128, 128)])
def test_a_matrix_beyond_64_lines_a_side_is_refused_in_one_line(size: tuple[int, int]) -> None:
    rows, columns = size
    cells = [["a"] * columns] * rows
    text = f'format = 1\nname = "x"\n[[matrix]]\nid = "m"\nkind = "lamp"\ncells = {json.dumps(cells)}\n'
    with pytest.raises(InputError, match=f"cells: is {rows} by {columns}: a matrix has at most 64 rows and columns"):
        parse_layout(text, "large")


def test_a_matrix_of_64_lines_a_side_is_taken() -> None:
    cells = [["a"] * 64] * 64
    text = f'format = 1\nname = "x"\n[[matrix]]\nid = "m"\nkind = "lamp"\ncells = {json.dumps(cells)}\n'
    assert parse_layout(text, "large").matrix("m").size == (64, 64)


def test_a_larger_matrix_that_an_old_book_holds_opens_and_is_not_analysed() -> None:
    old = to_json(parse_layout(bank(), "quay")).replace('[["kicker"],["flasher"]]', json.dumps([["a"]] * 65))
    layout = from_json(Layout, old)
    with pytest.raises(UsageError, match="coils is 65 by 1"):
        diagnose(layout, [Reading(matrix="coils", cell=KICKER, answered=())])


@given(NUMBERS)
@example(HUGE)
def test_ohms_of_a_reading_are_taken_within_their_limit_and_else_refused_in_one_line(value: Any) -> None:
    line = json.dumps({"matrix": "coils", "cell": 1, "ohms": value})
    if within(limits.MEASURED_OHMS, value):
        (reading,) = read_readings(line, LAYOUT, "evening.jsonl")
        assert reading.ohms == value
        return
    with pytest.raises(InputError, match=r"^evening\.jsonl:1: [^\n]{1,200}$"):
        read_readings(line, LAYOUT, "evening.jsonl")
    with pytest.raises(InputError, match=r"^reading of [^\n]{1,200}$"):
        check_reading(Reading(matrix="coils", cell=KICKER, ohms=value), LAYOUT)


@given(
    st.sampled_from(["cell", "held", "answered", "faint"]), NUMBERS | st.sampled_from(["r1c" + "9" * 5000, "9" * 50])
)
def test_a_place_of_a_reading_is_a_cell_or_refused_in_one_line(key: str, value: Any) -> None:
    body = {"matrix": "switches", "cell": 1, "answered": [], key: value if key == "cell" else [value]}
    known = type(value) is int and 0 < value <= 12 and LAYOUT.matrix("switches").by_number.get(value) is not None
    if known and key == "cell":
        assert read_readings(json.dumps(body), LAYOUT, "evening.jsonl")
        return
    if type(value) is int and 0 < value <= 12 and key != "cell":
        return  # a place of the grid: what may stand where is another rule
    with pytest.raises(InputError, match=r"^evening\.jsonl:1: [^\n]{1,200}$"):
        read_readings(json.dumps(body), LAYOUT, "evening.jsonl")


@pytest.mark.parametrize("year", ["0001-01-01T00:00:00+23:59", "1899-12-31", "2200-01-01", "9999-12-31T23:59:59-23:59"])
def test_a_reading_of_another_age_is_refused(year: str) -> None:
    with pytest.raises(InputError, match=r"^evening\.jsonl:1: `at` is a time from 1900 to 2199"):
        read_readings(json.dumps({"matrix": "coils", "cell": 1, "ohms": 4, "at": year}), LAYOUT, "evening.jsonl")


@given(st.from_regex(r"[0-9]{1,12}([.,][0-9]{1,9})?", fullmatch=True, alphabet="0123456789.,") | st.just("9" * 400))
def test_a_typed_resistance_is_taken_within_its_limit_and_else_refused_in_one_line(text: str) -> None:
    value = float(text.replace(",", "."))
    if within(limits.MEASURED_OHMS, value):
        assert parse_entries(f"1={text}", COILS)[0].ohms == value
        return
    with pytest.raises(InputError, match=r"a resistance is 0 to 1,000,000,000 ohms"):
        parse_entries(f"1={text}", COILS)


@pytest.mark.parametrize("text", ["break:switches.c1:" + "9" * 5000, "device-dead:switches." + "9" * 5000, "open:c²"])
def test_an_endless_count_in_a_fault_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_fault(text, LAYOUT)


@given(NUMBERS)
@example(HUGE)
def test_a_timed_walk_is_taken_within_its_limit_and_else_refused_in_one_line(value: Any) -> None:
    if within(limits.STEP_SECONDS, value):
        guard_pace(value, 0)
        return
    with pytest.raises(UsageError, match=r"^a walk steps every 0\.2 to 60 seconds, not [^\n]{1,100}$"):
        guard_pace(value, 0)


def test_a_timed_walk_that_no_machine_has_is_not_kept(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(LAYOUT, "x")
    bench.start_round(job, "coils", "walk", manner="paced")
    with pytest.raises(UsageError, match="a walk steps every"):
        bench.pace(job, 1e308, 0)
    with pytest.raises(UsageError, match="no round has a device"):
        bench.pace(job, 2.0, 10**30)
    bench.close()


MONSTROUS = st.sampled_from([1e308, 5e-324, 1e200, 1e-200, 0.0]) | st.floats(0, allow_infinity=False)


@given(MONSTROUS, MONSTROUS, st.floats(5e-324, 1, exclude_max=True))
@example(0.0, 5e-324, 0.5)
def test_an_old_book_with_monstrous_ohms_opens_and_is_analysed(measured: float, due: float, tolerance: float) -> None:
    old = to_json(parse_layout(bank(), "quay")).replace("4.2", repr(due)).replace("0.1", repr(tolerance))
    layout = from_json(Layout, old)
    kept = event_from("reading", body_of(Read(reading=Reading(matrix="coils", cell=KICKER, ohms=measured))))
    assert isinstance(kept, Read)
    state = state_after(kept)
    assert state.standings[KICKER].ohms == measured
    cell = layout.cell(KICKER)
    if due > 0:
        assert "\n" not in deviation_words(cell, measured)
        assert (wrong_ohms(cell) or 0.0) >= 0.0
    for celsius in (limits.COIL_CELSIUS.least, limits.COIL_CELSIUS.most):
        found = diagnose(layout, brought_to_20([kept.reading], celsius))
        assert all(0 <= suspect.probability <= 1 for suspect in found.suspects)


@given(st.floats(5e-324, allow_infinity=False), st.integers(0, 2**62), st.floats(0, 1e9))
def test_an_old_book_with_a_monstrous_pace_opens_and_is_taken_up(seconds: float, place: int, later: float) -> None:
    paced = event_from("round-paced", body_of(RoundPaced(seconds=seconds, place=place)))
    state = state_after(RoundStarted(matrix="coils", round="walk", manner="paced"), paced)
    assert state.round is not None
    assert state.round.pace == Pace(seconds, place, False, recorded(paced, paced)[2].at)
    timing = resumed_timing(state.round.pace, START + timedelta(seconds=10 + later), 5.0)
    assert timing.place(5.0) >= 0


def test_problems_of_numbers_have_their_line_in_the_check(tmp_path: Path) -> None:
    path = tmp_path / "quay.toml"
    path.write_text(bank(ohms=HUGE, tolerance=0.9, volts=math.nan, rate="9" * 9))
    assert [str(problem).removeprefix(f"{path}:") for problem in check_layout(path)] == [
        "8: matrix[1].volts: must be a finite number, not nan",
        "11: matrix[1].cell.1.ohms: has more digits than any number here, 1000000000000000000000000000000000000...",
        "12: matrix[1].cell.1.tolerance: must be at most 0.5, not 0.9",
        "18: part[1].rate: must be at most 0.99, not 999999999",
    ]
