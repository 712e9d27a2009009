"""List every string that the program can print: `python -m tests.words [WORD]`, with where each stands.

Strings of the code are found by its syntax tree, docstrings left out, what a string fills in later as `{}`; those of
templates and of TOML files as they stand. Not every one is printed: names of keys and the like are among them.
"""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).parent.parent
PROGRAM = ROOT / "matrixcheck"
_MARKUP = re.compile(r"{%.*?%}|{#.*?#}|<(style|script)\b.*?</\1>|<[^>]*>", re.DOTALL)
_FILLED_IN = re.compile(r"{{.*?}}", re.DOTALL)


class Phrase(NamedTuple):
    """A string of the program, and where it stands."""

    text: str
    file: str
    line: int


def phrases() -> Iterator[Phrase]:
    """Yield every string of the code, of templates and pages, and of the TOML files that the program reads."""
    for path in sorted(PROGRAM.rglob("*.py")):
        yield from of_code(path.read_text("utf-8"), _named(path))
    for path in sorted([*PROGRAM.rglob("*.j2"), *PROGRAM.rglob("*.html")]):
        yield from of_page(path.read_text("utf-8"), _named(path))
    for path in sorted([*PROGRAM.rglob("*.toml"), *(ROOT / "demo").glob("*.toml")]):
        for text in _texts(tomllib.loads(path.read_text("utf-8"))):
            yield Phrase(text, _named(path), 0)


def of_code(source: str, file: str) -> Iterator[Phrase]:
    """Yield the strings of a module that are no docstrings; `{}` stands for what is filled in."""
    tree = ast.parse(source)
    passed_over: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            passed_over.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            parts = [part.value if isinstance(part, ast.Constant) else "{}" for part in node.values]
            passed_over.update(id(part) for part in node.values)
            yield Phrase("".join(map(str, parts)), file, node.lineno)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in passed_over:
            yield Phrase(node.value, file, node.lineno)


def of_page(source: str, file: str) -> Iterator[Phrase]:
    """Yield the texts between the tags of a page or template."""
    blank = _MARKUP.sub(lambda found: "\x00" + "\n" * found[0].count("\n"), source)
    line = 1
    for text in _FILLED_IN.sub("{}", blank).split("\x00"):
        if text.strip(" \n{}"):
            yield Phrase(" ".join(text.split()), file, line)
        line += text.count("\n")


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for one in value.values():
            yield from _texts(one)
    elif isinstance(value, list):
        for one in value:
            yield from _texts(one)


def _named(path: Path) -> str:
    return str(path.relative_to(ROOT))


def main(words: list[str]) -> None:
    """Print the strings that hold one of the words, all of them without any."""
    for phrase in phrases():
        if not words or any(word.casefold() in phrase.text.casefold() for word in words):
            print(f"{phrase.file}:{phrase.line}: {' '.join(phrase.text.split())}")


if __name__ == "__main__":
    main(sys.argv[1:])
