"""Lines given together mean what the same lines mean one by one, and their slips are named where they were written."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from drawn_layouts import layouts
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from shorthand import shortened, together

from matrixcheck.layout.files import check_layout, find_layout, layout_from, parse_layout, read_layout, shipped
from matrixcheck.layout.frozen import to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.schema import Lines, layout_schema
from matrixcheck.layout.shorthand import KEYS, run

SCHEMA = Draft202012Validator(json.loads(layout_schema()))
CHARTS = Path(__file__).parents[1] / "data" / "charts"

HEAD = """format = 1
name = "Invented"
[[matrix]]
id = "switches"
kind = "switch"
cells = [["a", "b", "c"], ["d", "e", ""]]
"""


def given_together(layout: Layout) -> Any:
    """The layout's data with the lines of each side in one table."""
    data = json.loads(to_json(layout))
    for matrix in data["matrix"]:
        for side in ("column", "row"):
            if side in matrix:
                matrix[side] = together(matrix[side])
    return data


@given(layouts())
@settings(max_examples=30)
def test_lines_given_together_mean_what_they_mean_one_by_one(layout: Layout) -> None:
    assert layout_from(given_together(layout), "together") == layout


def test_the_invented_machine_given_together_is_the_same_with_all_its_chains() -> None:
    layout = read_layout(find_layout("saltmarsh-tram"))
    assert layout_from(given_together(layout), "together") == layout


@given(
    st.lists(
        st.builds("{}{}".format, st.sampled_from(["Q", "X1-", "U22-"]), st.integers(0, 9999)), min_size=2, max_size=40
    )
)
def test_a_run_is_read_as_what_it_was_made_of(refs: list[str]) -> None:
    text = shortened(refs)
    assert (run(text) or [text] * len(refs)) == refs


@pytest.mark.parametrize(
    ("text", "refs"),
    [
        ("J22-1...4", ["J22-1", "J22-2", "J22-3", "J22-4"]),
        ("J22-1\u20263", ["J22-1", "J22-2", "J22-3"]),
        ("Q3..1", ["Q3", "Q2", "Q1"]),
        ("Q1...Q2, Q7", ["Q1", "Q2", "Q7"]),
        ("X8-1...2, -, X8-4", ["X8-1", "X8-2", "-", "X8-4"]),
        ("K2", None),
    ],
)
def test_runs_are_written_in_any_usual_way(text: str, refs: list[str] | None) -> None:
    assert run(text) == refs


def test_sixteen_lines_take_a_tenth_of_the_lines_of_the_file() -> None:
    wires = [
        f'"{base}/{tracer}"' for base in ("GN", "WH") for tracer in ("BN", "RD", "OG", "YE", "BK", "BU", "VT", "GY")
    ]
    cells = "[" + ", ".join(['["a", "b", "c", "d", "e", "f", "g", "h"]'] * 8) + "]"
    head = f'format = 1\nname = "Invented"\n[[matrix]]\nid = "m"\nkind = "switch"\ncells = {cells}\n'
    short = (
        f"[matrix.column]\nwire = [{', '.join(wires[:8])}]\npath = ['U1-18...11', 'Q1...8', 'X1-1...8']\n"
        f"[matrix.row]\nwire = [{', '.join(wires[8:])}]\npath = ['U2-1...8', 'X2-1...4, X2-6...9']\n"
    )
    layout = parse_layout(head + short, "short")
    assert layout.matrices[0].columns[7].path == ("U1-11", "Q8", "X1-8")
    assert layout.matrices[0].rows[4].path == ("U2-5", "X2-6")
    assert layout.matrices[0].rows[4].wire == "WH/BK"
    assert len(short.splitlines()) * 10 <= 64


@pytest.mark.parametrize(
    ("lines", "problems"),
    [
        ('[matrix.column]\nwire = ["GN", "GR", "BK"]', ["8: matrix[1].column.wire[2]: 'GR' is not a wire colour"]),
        ('[matrix.column]\nwire = ["GN", "BK"]', ["8: matrix[1].column.wire: gives 2 where the grid has 3 columns"]),
        ('[matrix.row]\npath = ["Q1...3"]', ["8: matrix[1].row.path[1]: gives 3 where the grid has 2 rows"]),
        ('[matrix.row]\npath = "Q1...2"', ["8: matrix[1].row.path: needs a list in [ ]"]),
        ('[matrix.row]\nwires = ["GN", "BK"]', ["8: matrix[1].row.wires: is no known key; did you mean 'wire'?"]),
        ('[matrix.row]\nchain = [[1, 2, 3], [5, 9]]', ["8: matrix[1].row.chain[1]", "8: matrix[1].row.chain[2]"]),
        ('[matrix.column]\npath = ["X1-1, X1-1, X1-2"]', ["8: matrix[1].column.path[1]: is 'X1-1', a contact"]),
        ('[matrix.column]\nselect = "K1"', ["8: matrix[1].column.select: needs when"]),
        ("[matrix.column]\nwire = 3", ["8: matrix[1].column.wire: needs a list, one entry a line, not 3"]),
    ],
)  # fmt: skip
def test_a_slip_is_named_where_it_was_written(tmp_path: Path, lines: str, problems: list[str]) -> None:
    path = tmp_path / "slip.toml"
    path.write_text(HEAD + lines)
    found = [str(problem).removeprefix(f"{path}:") for problem in check_layout(path)]
    assert len(found) >= len(problems)
    for start in problems:
        assert any(one.startswith(start) for one in found), found


def test_the_schema_takes_what_the_program_takes() -> None:
    """Source: the validator of PyPI's `jsonschema`, draft 2020-12 of JSON Schema."""
    texts = [path.read_text(encoding="utf-8") for path in (*shipped().values(), *CHARTS.glob("*.toml"))]
    read = [tomllib.loads(text) for text in texts]
    for data in (*read, given_together(read_layout(find_layout("saltmarsh-tram")))):
        assert list(SCHEMA.iter_errors(data)) == []


@pytest.mark.parametrize(
    "lines", ['[matrix.column]\nwires = ["GN"]', "[matrix.row]\npath = 3", '[matrix.row]\nwire = ["green", ""]']
)
def test_the_schema_refuses_slips_in_lines_given_together(lines: str) -> None:
    assert list(SCHEMA.iter_errors(tomllib.loads(HEAD + lines)))


def test_lines_together_have_the_keys_of_a_line_in_the_schema_too() -> None:
    assert set(Lines.model_fields) == set(KEYS)
    assert set(json.loads(layout_schema())["$defs"]["Line"]["properties"]) == set(KEYS)


def test_every_shipped_layout_names_the_schema_beside_it() -> None:
    for path in shipped().values():
        assert path.read_text(encoding="utf-8").startswith("#:schema ./layout.schema.json\n")
        assert path.with_name("layout.schema.json").is_file()
