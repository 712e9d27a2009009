"""Where keys and list entries stand in a TOML text, against the standard library's reader and against eyes."""

from __future__ import annotations

import tomllib
from typing import Any

import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.layout.locate import line_numbers, line_of
from matrixcheck.layout.problems import Loc

TEXT = '''\
# a comment with [[brackets]] and "quotes"
title = "x"
"quoted = key" = 'y'
a.b.c = 3.14          # a dotted key

[[fruit]]
kind = """
two [[lines]]
and a quote \\""" here"""
sizes = [
  1,   # one
  # nothing
  2, [3,
    4],
  {x = 1, y = {z = 'deep'}},
]
[[fruit.seed]]
n = 1
[[fruit.seed]]
n = 2979-05-27T07:32:00Z
[fruit.cell.12]
\tw = [ [ [ ] ] ]
[[fruit]]
kind = \'\'\'it's ] \'\'\'
[fruit.cell.12]
v = 1
[other."a.b"]
k = +1e5
'''


def test_keys_and_entries_are_found_on_their_lines() -> None:
    lines = line_numbers(TEXT)
    assert tomllib.loads(TEXT)["fruit"][1]["cell"] == {"12": {"v": 1}}
    expected: dict[Loc, int] = {
        ("title",): 2,
        ("quoted = key",): 3,
        ("a", "b", "c"): 4,
        ("fruit",): 6,
        ("fruit", 0): 6,
        ("fruit", 0, "kind"): 7,
        ("fruit", 0, "sizes"): 10,
        ("fruit", 0, "sizes", 0): 11,
        ("fruit", 0, "sizes", 1): 13,
        ("fruit", 0, "sizes", 2): 13,
        ("fruit", 0, "sizes", 2, 1): 14,
        ("fruit", 0, "sizes", 3): 15,
        ("fruit", 0, "sizes", 3, "y", "z"): 15,
        ("fruit", 0, "seed"): 17,
        ("fruit", 0, "seed", 0): 17,
        ("fruit", 0, "seed", 1): 19,
        ("fruit", 0, "seed", 1, "n"): 20,
        ("fruit", 0, "cell", "12"): 21,
        ("fruit", 0, "cell", "12", "w", 0, 0): 22,
        ("fruit", 1): 23,
        ("fruit", 1, "kind"): 24,
        ("fruit", 1, "cell", "12", "v"): 26,
        ("other", "a.b"): 27,
        ("other", "a.b", "k"): 28,
    }
    assert {loc: lines.get(loc) for loc in expected} == expected


def test_a_missing_key_stands_where_its_table_does() -> None:
    lines = line_numbers(TEXT)
    assert line_of(("fruit", 1, "cell", "12", "none"), lines) == 25
    assert line_of(("fruit", 0, "seed", 1, "none"), lines) == 19
    assert line_of(("none",), lines) == 1


keys = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=6)
scalars = st.one_of(st.booleans(), st.integers(-9, 10**6), st.floats(allow_nan=False), st.datetimes(),
                    st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), max_size=8))  # fmt: skip
documents = st.dictionaries(
    keys,
    st.recursive(
        scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3), max_leaves=8
    ),
    max_size=4,
)


def places(value: Any, loc: Loc = ()) -> list[Loc]:
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [place for key, item in pairs for place in [(*loc, key), *places(item, (*loc, key))]]


@given(documents)
@settings(max_examples=100)
def test_whatever_the_reader_finds_has_a_line(document: dict[str, Any]) -> None:
    text = tomlkit.dumps(document)
    content = tomllib.loads(text)
    lines = line_numbers(text)
    assert set(lines) == set(places(content))
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())
