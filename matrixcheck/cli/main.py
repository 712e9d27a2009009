"""Where the program starts. Only what `--version` needs is imported before it is known what was asked for."""

from __future__ import annotations

import gc
import sys

from matrixcheck import __version__


def main(args: list[str] | None = None) -> int:
    """Run one command line and give its exit code."""
    given = sys.argv[1:] if args is None else args
    if given == ["--version"]:
        print(f"matrixcheck {__version__}")
        return 0
    gc.disable()  # what is imported stays: looking through it for garbage would only take time
    try:
        from matrixcheck.cli.entrypoint import run  # typer alone takes five times as long as Python to start

        return run(given)
    finally:
        gc.enable()


if __name__ == "__main__":
    sys.exit(main())
