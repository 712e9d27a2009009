"""The process behind one page: `python -m matrixcheck.serve.child LAYOUTS BOOK JOB MATRIX`, '' for no job or matrix.

LAYOUTS says which ones a new job may take: `shipped`, or `any` file as well.
"""

from __future__ import annotations

import sys
from pathlib import Path

from matrixcheck.tui.app import run


def main() -> None:
    """Run the screens until they are closed or the page goes."""
    layouts, book, job, matrix = sys.argv[1:]
    sys.exit(run(Path(book), job or None, matrix or None, own_layouts=layouts == "any"))


if __name__ == "__main__":
    main()
