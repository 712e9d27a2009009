"""The process behind one page: `python -m matrixcheck.web.child FILES FOLDER BOOK JOB MATRIX KEY`.

FOLDER, JOB and MATRIX are '' for none. A new job may take a layout that comes with the program or lies in FOLDER; FILES
is `any` where it may take any other file as well, else `listed`. KEY is the page's own.
"""

from __future__ import annotations

import os
import sys
from functools import partial
from pathlib import Path

from matrixcheck.config.place import keep_theme, load
from matrixcheck.config.rates import rates_for_screens
from matrixcheck.record.clients import page
from matrixcheck.tui.run import run
from matrixcheck.web.place import Place


def main() -> None:
    """Run the screens until they are closed or the page goes."""
    files, folder, book, job, matrix, key = sys.argv[1:]
    layouts = Path(folder) if folder else None
    sys.exit(_run(files == "any", layouts, Path(book), Place(job or None, matrix or None), key))


def _run(here: bool, layouts: Path | None, book: Path, place: Place, key: str) -> int:
    """Run the screens; `here` says that the page is one of this computer, whose theme stays chosen."""
    holds = load(os.environ, {"book": book})
    return run(
        book,
        place.job,
        place.matrix,
        own_layouts=here,
        layouts=layouts,
        client=page(key),
        initials=holds.initials,
        as_before=True,
        rates=rates_for_screens(holds),
        look=holds.look,
        keep_theme=partial(keep_theme, os.environ) if here else None,
    )


if __name__ == "__main__":
    main()
