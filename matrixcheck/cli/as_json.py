"""Results as JSON on standard output, for other programs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from matrixcheck.cli.outputs import STANDARD_OUTPUT, print_whole
from matrixcheck.cli.saying import say, say_kept, saying_kept
from matrixcheck.errors import UsageError


def json_text(data: Any) -> str:
    """Return JSON that people can read too. What would steer a terminal is written as JSON's own escape."""
    import json

    from matrixcheck.layout.problems import visible

    text = json.dumps(data, ensure_ascii=False, indent=1)
    steering = (sign for sign in set(text) - {"\n"} if visible(sign) != sign)
    return text.translate({ord(sign): f"\\u{ord(sign):04x}" for sign in steering}) + "\n"


def print_json(data: Any) -> None:
    """Print JSON on standard output."""
    print_whole(json_text(data))


def say_kept_or_json(lines: Sequence[str], data: Callable[[], Any], as_json: bool) -> None:
    """Print what was kept, a line each or as JSON.

    Raises PrintError, which says the lines, where standard output can't be written.
    """
    if not as_json:
        say_kept(*lines)
        return
    with saying_kept(lines):
        print_json(data())


def print_written(files: Iterable[Path]) -> None:
    """Print as JSON which files were written."""
    print_json({"format": 1, "written": list(map(str, files))})


def refuse_two_outputs(as_json: bool, files: Iterable[Path]) -> None:
    """Raise UsageError where one of the files is standard output, and JSON is to go there too."""
    if as_json and any(file.stem == STANDARD_OUTPUT or str(file) == STANDARD_OUTPUT for file in files):
        raise UsageError("two outputs for standard output", "name a file, or leave out --json")


def say_or_json(line: str, body: Mapping[str, Any], as_json: bool) -> None:
    """Print a line, or what it says as JSON."""
    if as_json:
        print_json({"format": 1, **body})
    else:
        say(line)
