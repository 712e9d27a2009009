"""Play the invented evening of `evening.toml`: `python demo/run.py [--out DIR]` is `matrixcheck demo [--out DIR]`."""

from __future__ import annotations

import sys

from matrixcheck.cli.main import main

if __name__ == "__main__":
    sys.exit(main(["demo", *sys.argv[1:]]))
