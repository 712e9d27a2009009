"""The process behind one page: `python -m matrixcheck.web.child LAYOUTS BOOK JOB MATRIX KEY`.

JOB and MATRIX are '' for none. LAYOUTS says which ones a new job may take: `shipped`, or `any` file as well. KEY is the
page's own.
"""

from __future__ import annotations

import os
import sys
from functools import partial
from pathlib import Path

from matrixcheck.config.place import keep_theme, load
from matrixcheck.config.rates import rates_in_use
from matrixcheck.record.clients import page
from matrixcheck.tui.run import run


def main() -> None:
    """Run the screens until they are closed or the page goes."""
    layouts, book, job, matrix, key = sys.argv[1:]
    sys.exit(_run(layouts == "any", Path(book), job or None, matrix or None, key))


def _run(here: bool, book: Path, job: str | None, matrix: str | None, key: str) -> int:
    """Run the screens; `here` says that the page is one of this computer, whose theme stays chosen."""
    holds = load(os.environ, {"book": book})
    return run(
        book,
        job,
        matrix,
        own_layouts=here,
        client=page(key),
        initials=holds.initials,
        as_before=True,
        rates=rates_in_use(holds),
        look=holds.look,
        keep_theme=partial(keep_theme, os.environ) if here else None,
    )


if __name__ == "__main__":
    main()
