"""The pieces of a layout problem's line: keys as a person counts, values in few words, spellings that come near."""

from __future__ import annotations

import pytest

from matrixcheck.layout.problems import Problem, key_of, nearest, shortened, shown


@pytest.mark.parametrize(
    ("loc", "key"),
    [
        ((), ""),
        (("name",), "name"),
        (("matrix", 1, "column", 2, "path"), "matrix[2].column[3].path"),
        (("matrix", 0, "cells", 3, 4), "matrix[1].cells[4][5]"),
        (("matrix", 0, "cell", "12", "keep_warm", "ohms"), "matrix[1].cell.12.keep_warm.ohms"),
        (("two words", "a.b"), '"two words"."a.b"'),
        (("\x1b[31m",), '"\N{REPLACEMENT CHARACTER}[31m"'),
    ],
)
def test_keys_count_from_one_and_are_quoted_where_toml_would(loc: tuple[str | int, ...], key: str) -> None:
    assert key_of(loc) == key


@pytest.mark.parametrize(
    ("value", "words"),
    [("a\nb", "'a\N{REPLACEMENT CHARACTER}b'"),
     ("x", "'x'"), (True, "true"), (3, "3"), (0.5, "0.5"), ([1], "a list"), ({}, "a table")],
)  # fmt: skip
def test_values_are_shown_in_few_words(value: object, words: str) -> None:
    assert shown(value) == words


def test_long_texts_are_cut_to_a_visible_length() -> None:
    assert shortened("x" * 40) == "x" * 40
    assert shortened("x" * 41) == "x" * 37 + "..."


@pytest.mark.parametrize(
    ("word", "meant"), [("numberin", "numbering"), ("CHAIN", "chain"), ("paths", "path"), ("zzz", None), ("", None)]
)
def test_the_nearest_spelling_is_one_that_comes_near(word: str, meant: str | None) -> None:
    assert nearest(word, ["numbering", "numbers", "chain", "path"]) == meant


@pytest.mark.parametrize(
    ("problem", "line"),
    [
        (Problem("m.toml", 3, "name", "is missing"), "m.toml:3: name: is missing"),
        (Problem("m.toml", None, "", "not a layout"), "m.toml: not a layout"),
        (
            Problem("m.toml", 9, "pth", "is no known key", "path"),
            "m.toml:9: pth: is no known key; did you mean 'path'?",
        ),
    ],
)
def test_a_problem_is_one_line(problem: Problem, line: str) -> None:
    assert str(problem) == line
