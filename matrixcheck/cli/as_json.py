"""Results as JSON on standard output, for other programs."""

from __future__ import annotations

from typing import Any

from matrixcheck.cli.outputs import print_whole


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
