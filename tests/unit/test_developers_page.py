"""The pages for developers: every file, module, name and measurement that they quote is there, and so are the tests
that they say are left out."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bench.__main__ import names as measurements
from tests.conftest import BROWSER_TESTS

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "matrixcheck"
PAGES = (ROOT / "DEVELOPERS.md", PACKAGE / "diagnosis" / "README.md")
FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
PATH = re.compile(r"[\w./-]+/|[\w.-]*[\w./-]*/[\w.-]+|[\w-]+\.(py|toml|md|json|tcss)")
NAME = re.compile(r"[A-Za-z_][\w.]*")
OTHER_WORDS = {"CI", "Q3", "chromium", "fixed", "random", "rate", "serve", "stuck"}
"""Quoted words that look like names and are none: designators, commands, profiles, keys of files, marks."""


def missing_paths(text: str, folder: Path) -> list[str]:
    """The quoted paths that lead nowhere, from the page's folder, the package or the root of the repository.

    A path may also start from a folder that is named before it on its line, or in the heading of its section.
    """
    bases = [folder, PACKAGE, ROOT]
    above: list[Path] = []
    missing = []
    for line in FENCE.sub("", text).splitlines():
        named: list[Path] = []
        for words in quoted(line):
            if PATH.fullmatch(words):
                found = next((base / words for base in (*named, *above, *bases) if (base / words).exists()), None)
                if found is None:
                    missing.append(words)
                elif found.is_dir():
                    named.append(found)
        if line.startswith("#"):
            above = named
    return missing


def unknown_names(text: str) -> list[str]:
    """The quoted names that nothing in the package or the tests defines.

    A file is parsed only if it has a word that was found defined in none before: most are not.
    """
    names = names_in(text)
    missing = {part for words in names for part in words.split(".")} - {"matrixcheck", "tests"}
    for path in (*PACKAGE.rglob("*.py"), *(ROOT / "tests").rglob("*.py")):
        missing -= {path.stem, path.parent.name}
        source = path.read_text("utf-8")
        if not missing.isdisjoint(re.findall(r"\w+", source)):
            missing -= defined(source)
    return [words for words in names if not missing.isdisjoint(words.split("."))]


def names_in(text: str) -> list[str]:
    words = quoted(FENCE.sub("", text))
    return [one for one in words if NAME.fullmatch(one) and not PATH.fullmatch(one) and one not in OTHER_WORDS]


def quoted(text: str) -> Iterator[str]:
    return iter(re.findall(r"`([^`\n]+)`", text))


def defined(source: str) -> set[str]:
    """Every class, function, field and constant of a file."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            found.add(node.name)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            found.add(node.id)
    return found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_file_and_folder_that_a_page_names_is_there(page: Path) -> None:
    text = page.read_text("utf-8")
    assert sum(1 for words in quoted(text) if PATH.fullmatch(words)) > 30
    assert missing_paths(text, page.parent) == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_name_that_a_page_quotes_is_defined(page: Path) -> None:
    text = page.read_text("utf-8")
    assert len(names_in(text)) > 10
    assert unknown_names(text) == []


def test_every_measurement_that_a_page_names_is_there() -> None:
    text = PAGES[0].read_text("utf-8")
    measuring = text.partition("## Measuring")[2]
    named = set(re.findall(r"python -m tests\.bench ([a-z]\w*)", text))
    named |= {words for words in quoted(measuring) if re.fullmatch(r"[a-z]+", words)}
    assert len(named) > 5
    assert named <= set(measurements())


def test_the_browser_tests_that_are_left_out_without_a_browser_are_there() -> None:
    assert [name for name in BROWSER_TESTS if not (ROOT / "tests" / name).is_file()] == []


def test_what_is_not_there_is_found() -> None:
    text = "`record/journal.py`, `record/gone.py`\n`web/`: `site.py`\n`site.py`\n`JobState`, `JobState.gone_field`"
    assert missing_paths(text, ROOT) == ["record/gone.py", "site.py"]
    assert unknown_names(text) == ["JobState.gone_field"]
