"""The process behind one page: `python -m matrixcheck.web.child LAYOUTS BOOK JOB MATRIX KEY`.

JOB and MATRIX are '' for none. LAYOUTS says which ones a new job may take: `shipped`, or `any` file as well. KEY is the
page's own.
"""

from __future__ import annotations

import sys
from pathlib import Path

from matrixcheck.record.clients import page
from matrixcheck.tui.app import run


def main() -> None:
    """Run the screens until they are closed or the page goes."""
    layouts, book, job, matrix, key = sys.argv[1:]
    sys.exit(run(Path(book), job or None, matrix or None, own_layouts=layouts == "any", client=page(key)))


if __name__ == "__main__":
    main()
