"""The process behind one page starts here: `python -m matrixcheck.serve.child BOOK JOB MATRIX`, '' for none."""

from __future__ import annotations

import sys
from pathlib import Path

from matrixcheck.tui.app import run


def main() -> None:
    """Run the screens until they are closed or the page goes."""
    book, job, matrix = sys.argv[1:]
    sys.exit(run(Path(book), job or None, matrix or None))


if __name__ == "__main__":
    main()
