"""`python -m tests.bench NAME [arguments]`: the name picks the module of that name in this folder."""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path

_HERE = Path(__file__).parent


def names() -> list[str]:
    """The measurements there are: every module here with a `main`."""
    return sorted(
        path.stem for path in _HERE.glob("*.py") if path.stem[0] != "_" and "\ndef main(" in path.read_text("utf-8")
    )


def run(argv: list[str]) -> int:
    """Hands the arguments after the name to that module's `main(argv)`."""
    if not argv or argv[0] not in names():
        print(f"usage: python -m tests.bench {{{','.join(names())}}} [arguments]", file=sys.stderr)
        return 2
    result = import_module(f"tests.bench.{argv[0]}").main(argv[1:])
    return int(result or 0)


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
