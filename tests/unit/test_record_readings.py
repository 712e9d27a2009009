"""Readings files: what a line says, what can't have happened, and one line of refusal with file and line number."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_case import LAYOUT, at, readings

from matrixcheck.errors import InputError
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.problems import visible
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.record.readings import check_reading, read_readings, write_readings


def one(body: object) -> Reading:
    """The one reading of a file of one line."""
    text = body if isinstance(body, str) else json.dumps(body)
    (reading,) = read_readings(text, LAYOUT, "evening.jsonl")
    return reading


def test_an_exercise_names_cells_by_number_or_address() -> None:
    reading = one({"matrix": "switches", "cell": 5, "held": ["r1c1"], "answered": [5, "switches.r1c1", 9]})
    assert reading == Reading(
        matrix="switches", cell=at(2, 2), held=(at(1, 1),), answered=(at(2, 2), at(1, 1), at(3, 3))
    )


def test_without_a_cell_it_is_a_rest_scan() -> None:
    assert one({"matrix": "switches", "held": [5], "answered": [5]}).cell is None


def test_a_mark_alone_leaves_open_what_answered() -> None:
    reading = one({"matrix": "lamps", "cell": 21, "mark": "dead"})
    assert (reading.mark, reading.answered) == (Mark.DEAD, None)


def test_every_optional_key_is_read() -> None:
    body = {"matrix": "lamps", "cell": 21, "answered": [21], "faint": [22, "r2c3"], "note": "flickers", "blew": "F2"}
    reading = one(body | {"at": "2026-03-01T19:30:00+02:00", "ohms": 4})
    assert reading.faint == (CellKey("lamps", 2, 2), CellKey("lamps", 2, 3))
    assert (reading.note, reading.blew, reading.ohms) == ("flickers", "F2", 4.0)
    assert reading.at == datetime(2026, 3, 1, 17, 30, tzinfo=UTC)
    assert one({"matrix": "lamps", "cell": 21, "mark": "dead", "blew": True}).blew is True


def test_a_time_without_an_offset_is_taken_as_utc() -> None:
    reading = one({"matrix": "lamps", "cell": 21, "mark": "dead", "at": "2026-03-01T19:30:00"})
    assert reading.at == datetime(2026, 3, 1, 19, 30, tzinfo=UTC)


def test_blank_lines_a_byte_order_mark_and_windows_line_ends_are_passed_over() -> None:
    line = '{"matrix": "lamps", "cell": 21, "mark": "dead"}'
    assert len(read_readings(f"\ufeff{line}\r\n\r\n  \n{line}\r\n", LAYOUT, "evening.jsonl")) == 2


REFUSED = [
    ("{", "not a line of JSON"),
    ("[1, 2]", "a reading is a JSON object"),
    ("5", "a reading is a JSON object"),
    ("[" * 5_000, "not a line of JSON"),
    ('{"matrix": "lamps", "cell": ' + "9" * 5_000 + ', "mark": "dead"}', "not a line of JSON"),
    ('{"matrix": "lamps", "cell": 21, "cell": 22, "mark": "dead"}', "'cell' stands twice"),
    ('{"matrix": "lamps", "cell": 21, "ohms": NaN}', "NaN is not a number"),
    ('{"matrix": "lamps", "cell": 21, "ohms": 1e999}', "`ohms` is a number from 0 to 1,000,000,000 ohms"),
    ({"cell": 21, "mark": "dead"}, "no `matrix`"),
    ({"matrix": "lamp", "cell": 21, "mark": "dead"}, "no matrix 'lamp'; 'Lantern Pier' has switches, lamps, coils"),
    ({"matrix": ["lamps"], "cell": 21, "mark": "dead"}, "no matrix a list"),
    ({"matrix": "lamps", "cell": 99, "mark": "dead"}, "`cell`: lamps has no cell 99"),
    ({"matrix": "lamps", "cell": 0, "mark": "dead"}, "`cell`: lamps has no cell 0"),
    ({"matrix": "lamps", "cell": "21", "mark": "dead"}, "`cell`: lamps has no cell '21'"),
    ({"matrix": "lamps", "cell": True, "mark": "dead"}, "`cell`: lamps has no cell true"),
    ({"matrix": "lamps", "cell": "switches.r1c1", "mark": "dead"}, "`cell`: lamps has no cell 'switches.r1c1'"),
    ({"matrix": "lamps", "cell": "r2c3", "mark": "dead"}, "nothing is fitted at lamps.r2c3"),
    ({"matrix": "lamps", "cell": 21, "answered": ["r9c1"]}, "`answered`: lamps has no cell 'r9c1'"),
    ({"matrix": "lamps", "cell": 21, "answered": 21}, "`answered` is a list of cells"),
    ({"matrix": "lamps", "cell": 21, "answered": "21"}, "`answered` is a list of cells"),
    ({"matrix": "lamps", "cell": 21}, "says nothing"),
    ({"matrix": "lamps", "answered": [21], "mark": "dead"}, "`mark` and `ohms` need a `cell`"),
    ({"matrix": "switches", "held": [5]}, "needs `answered`"),
    ({"matrix": "switches", "cell": 5, "held": [5], "answered": [5]}, "both exercised and held"),
    ({"matrix": "switches", "cell": 5, "mark": "working", "answered": []}, "goes against `answered`"),
    ({"matrix": "switches", "cell": 5, "mark": "stuck", "answered": [4]}, "goes against `answered`"),
    ({"matrix": "switches", "cell": 5, "mark": "dead", "answered": [5]}, "goes against `answered`"),
    ({"matrix": "switches", "cell": 5, "mark": "untested"}, "`mark` is working, dead or stuck"),
    ({"matrix": "switches", "cell": 5, "mark": 1}, "`mark` is working, dead or stuck"),
    ({"matrix": "lamps", "cell": 21, "answered": [21], "faint": [21]}, "both answers and is faint"),
    ({"matrix": "lamps", "cell": 21, "held": [22], "answered": [21]}, "only switches are held"),
    ({"matrix": "switches", "cell": 5, "answered": [5], "faint": [4]}, "only lamps glow faintly"),
    ({"matrix": "coils", "cell": 1, "ohms": -1}, "`ohms` is a number from 0 to 1,000,000,000 ohms"),
    ({"matrix": "coils", "cell": 1, "ohms": "4.1"}, "`ohms` is a number from 0 to 1,000,000,000 ohms"),
    ({"matrix": "coils", "cell": 1, "ohms": True}, "`ohms` is a number from 0 to 1,000,000,000 ohms"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "at": "yesterday"}, "`at` is a time"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "at": 5}, "`at` is a time"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "note": 5}, "`note` is a text"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "note": "x" * 3_000}, "`note` is a text"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "note": "\ud800"}, "`note` is not valid text"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "blew": "fuse"}, "`blew` is true or a fuse's designator"),
    ({"matrix": "coils", "cell": 1, "mark": "dead", "blew": 2}, "`blew` is true or a fuse's designator"),
    ({"matrix": "coils", "cell": 1, "marks": "dead"}, "unknown key 'marks'"),
]


@pytest.mark.parametrize(("body", "message"), REFUSED)
def test_what_cannot_be_is_refused_with_file_line_and_reason(body: object, message: str) -> None:
    good = '{"matrix": "lamps", "cell": 21, "mark": "dead"}\n'
    text = good + (body if isinstance(body, str) else json.dumps(body))
    with pytest.raises(InputError) as caught:
        read_readings(text, LAYOUT, "evening.jsonl")
    assert caught.value.message.startswith("evening.jsonl:2: ")
    assert message in caught.value.message
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize("text", ["", "\n", "  \n\t\n", "\ufeff"])
def test_an_empty_file_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"evening\.jsonl holds no readings"):
        read_readings(text, LAYOUT, "evening.jsonl")


@pytest.mark.parametrize("text", ["x" * 1_000_000, "{" * 1_000_000, "[1]\n" * 250_000, "\x00\x1b[31m" * 200_000])
def test_a_megabyte_of_nonsense_is_refused_in_one_short_line_at_its_first_line(text: str) -> None:
    with pytest.raises(InputError) as caught:
        read_readings(text, LAYOUT, "evening.jsonl")
    assert caught.value.message.startswith("evening.jsonl:1: ")
    assert len(str(caught.value)) < 300
    assert str(caught.value).isprintable()


def test_a_text_longer_than_any_readings_file_is_refused_unread() -> None:
    with pytest.raises(InputError, match="larger than any readings file"):
        read_readings("\n" * 16_000_001, LAYOUT, "evening.jsonl")


@given(st.lists(readings(), min_size=1, max_size=5))
def test_reading_what_was_written_gives_the_same_readings(written: list[Reading]) -> None:
    """But for what would steer a terminal in a note."""
    expected = tuple(replace(reading, note=visible(reading.note)) for reading in written)
    assert read_readings(write_readings(written, LAYOUT), LAYOUT, "x") == expected


@given(st.text(max_size=80) | st.binary(max_size=80).map(lambda data: data.decode("latin-1")))
def test_any_text_gives_readings_or_a_refusal(text: str) -> None:
    with pytest.raises(InputError):
        read_readings(text, LAYOUT, "x")


_LEAVES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6)
_JSON = st.recursive(
    _LEAVES | st.sampled_from(["r1c1", "lamps", 5]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3),
    max_leaves=6,
)


def _tried(body: dict[str, object]) -> Reading | InputError:
    try:
        return read_readings(json.dumps(body), LAYOUT, "x")[0]
    except InputError as refusal:
        return refusal


@given(st.dictionaries(st.sampled_from(["matrix", "cell", "held", "answered", "faint", "mark", "ohms", "at"]), _JSON))
def test_any_object_gives_a_sound_reading_or_a_refusal(body: dict[str, object]) -> None:
    result = _tried({"matrix": "lamps"} | body)
    if isinstance(result, InputError):
        assert result.message.startswith("x:1: ")
    else:
        check_reading(result, LAYOUT)


@pytest.mark.parametrize(
    "reading",
    [
        Reading(matrix="lamps", cell=CellKey("lamps", 9, 9), mark=Mark.DEAD),
        Reading(matrix="lamps", cell=CellKey("switches", 1, 1), mark=Mark.DEAD),
        Reading(matrix="coils", cell=CellKey("coils", 1, 1), ohms=float("nan")),
        Reading(matrix="coils", cell=CellKey("coils", 1, 1), mark=Mark.UNTESTED),
        Reading(matrix="coils", cell=CellKey("coils", 1, 1)),
    ],
)
def test_readings_made_by_a_program_keep_the_same_rules(reading: Reading) -> None:
    with pytest.raises(InputError):
        check_reading(reading, LAYOUT)
