"""A good layout file with one thing changed at random: reported, or another good layout; and never a breakdown."""

from __future__ import annotations

import json
import random
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from test_layout_mistakes import SOUND

from matrixcheck.errors import InputError
from matrixcheck.layout.files import find_layout, look_over, parse_layout
from matrixcheck.layout.frozen import from_json, to_json
from matrixcheck.layout.locate import positions
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import Loc
from matrixcheck.layout.schema import layout_schema

TRAM = find_layout("saltmarsh-tram").read_text(encoding="utf-8")
SCHEMA = Draft202012Validator(json.loads(layout_schema()))
where = cache(positions)
"""The place of each value in a text that is gone through once, not for each change."""
CASES = [
    pytest.param(text, seed, marks=() if seed < quick else pytest.mark.slow, id=f"{name}-{seed}")
    for name, text, quick in (("test bed", SOUND, 60), ("tram", TRAM, 0))
    for seed in range(200)
]


def values(data: Any, loc: Loc = ()) -> Iterator[tuple[Loc, Any]]:
    """Every text, number and truth in it, with its place."""
    if isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from values(value, (*loc, key))
    else:
        yield loc, data


def changed(value: Any, draw: random.Random) -> Any:
    """The value as a slip of the fingers leaves it, or one of another type."""
    if isinstance(value, bool):
        return draw.choice([not value, str(value)])
    if isinstance(value, int | float):
        return draw.choice([value * 10, -value, str(value), value + 1, True])
    if not value:
        return draw.choice(["X1-1", " ", 0])
    at = draw.randrange(len(value))
    return draw.choice([
        value[:at] + value[at + 1 :], value[:at] + draw.choice("aQ7-_ ./") + value[at:], value[:at] + value[at:][::-1],
        value.swapcase(), value + " ", 7, "",
    ])  # fmt: skip


def replaced(text: str, line: int, column: int, old: Any, new: Any) -> str:
    """The text with another value for the key, or the entry of a list, that stands at a place."""
    start = sum(len(one) + 1 for one in text.split("\n")[: line - 1]) + column - 1
    written = json.dumps(old, ensure_ascii=False)
    before, found, after = text[start:].partition(written)
    assert found
    assert "\n" not in before
    return text[:start] + before + json.dumps(new, ensure_ascii=False) + after


def put(data: Any, loc: Loc, value: Any) -> None:
    for step in loc[:-1]:
        data = data[step]
    data[loc[-1]] = value


@pytest.mark.parametrize(("sound", "seed"), CASES)
def test_a_changed_value_is_reported_or_gives_another_good_layout(tmp_path: Path, sound: str, seed: int) -> None:
    draw = random.Random(seed)
    data = tomllib.loads(sound)
    loc, value = draw.choice(list(values(data)))
    new = changed(value, draw)
    line, column = where(sound)[loc]
    text = replaced(sound, line, column, value, new)
    path = tmp_path / "changed.toml"
    path.write_text(text, encoding="utf-8")
    problems = look_over(path)
    errors = [problem for problem in problems if problem.severity == "error"]
    if not errors:
        is_good(text, data, loc, new)
        return
    with pytest.raises(InputError):
        parse_layout(text, "changed")
    # What other lines say of a value that is gone names it, or its place: a chain, notes, a part.
    place = f"r{int(loc[-2]) + 1}c{int(loc[-1]) + 1}" if "cells" in loc else value
    told = [problem for problem in problems if problem.line == line]
    told += [
        problem for problem in problems if any(str(one) in problem.reason for one in (value, new, place) if one != "")
    ]
    assert told, (line, loc, value, new, [str(problem) for problem in problems])


def is_good(text: str, before: Any, loc: Loc, new: Any) -> None:
    """Another good layout: an outside validator takes it, it says the new value and else what it said, and it is kept.

    Source of the validator: PyPI's `jsonschema`, draft 2020-12 of JSON Schema.
    """
    layout = parse_layout(text, "changed")
    data = tomllib.loads(text)
    assert list(SCHEMA.iter_errors(data)) == []
    put(before, loc, new)
    assert data == before
    assert from_json(Layout, to_json(layout)) == layout


@pytest.mark.parametrize(("sound", "seed"), CASES)
def test_a_damaged_text_is_reported_or_gives_a_good_layout(tmp_path: Path, sound: str, seed: int) -> None:
    draw = random.Random(seed)
    lines = sound.splitlines()
    at = draw.randrange(len(lines))
    line = lines[at]
    cut = draw.randrange(len(line) + 1)
    damaged = draw.choice(
        [[], [line, line], [line[:cut]], [line[:cut] + draw.choice('"[]{}=,#x ') + line[cut:]], [line[cut:]]]
    )
    text = "\n".join([*lines[:at], *damaged, *lines[at + 1 :]]) + "\n"
    path = tmp_path / "damaged.toml"
    path.write_text(text, encoding="utf-8")
    problems = look_over(path)
    if any(problem.severity == "error" for problem in problems):
        assert all(0 < (problem.line or 1) <= len(lines) + 2 for problem in problems)
        with pytest.raises(InputError):
            parse_layout(text, "damaged")
    else:
        assert list(SCHEMA.iter_errors(tomllib.loads(text))) == []
        layout = parse_layout(text, "damaged")
        assert from_json(Layout, to_json(layout)) == layout
