"""Start the screens on a book; however they end, the book is closed."""

from __future__ import annotations

import gc
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from matrixcheck.errors import BookError
from matrixcheck.tui.look import LOOK, Look

if TYPE_CHECKING:
    from matrixcheck.analyses import GivenRates
    from matrixcheck.tui.app import MatrixCheckApp

PATIENCE = 0.25
"""Seconds that one try to write waits for another program. What isn't kept then is tried again, and shown meanwhile."""


def run(
    book: Path,
    job: str | None = None,
    matrix: str | None = None,
    *,
    client: str,
    initials: str = "",
    as_before: bool = False,
    rates: GivenRates = None,
    own_layouts: bool = True,
    layouts: Path | None = None,
    look: Look = LOOK,
    keep_theme: Callable[[str], object] | None = None,
    make_demo: Callable[[], Path] | None = None,
) -> int:
    """Run the screens on a book until the person quits or the system ends them; return the exit code.

    `client` names the terminal or page that they are shown on, `initials` who is at it, or with `as_before` those
    that it used last, if there are any; `rates` are the workshop's own; a new job may take the layouts of the folder
    `layouts`, and with `own_layouts` any file; `keep_theme` keeps the name of a theme that was chosen.
    `make_demo` makes the book of the demonstration: it is shown when it is asked for, then the own book again.

    Raises MatrixCheckError before they open.
    """
    # What is imported stays, and what the first paint is made of as well: looking through all that for garbage would
    # hold up the paint. So Textual is imported after this, not above.
    gc.disable()
    try:
        from matrixcheck.bench import Bench  # noqa: PLC0415
        from matrixcheck.tui.app import MatrixCheckApp  # noqa: PLC0415

        shown, theme = book, look.theme
        while True:
            bench = Bench(shown, patience=PATIENCE, client=client, initials=initials, rates=rates)
            try:
                if as_before:
                    bench.sign_as_before()
                bench.changed()
                app = MatrixCheckApp(
                    bench,
                    None if job is None else bench.state(job).id,
                    matrix,
                    own_layouts=own_layouts,
                    layouts=layouts,
                    look=look._replace(theme=theme),
                    keep_theme=keep_theme,
                    make_demo=make_demo,
                    own_book=None if shown == book else book,
                )
                code = _run(app)
            finally:
                bench.close()
            if app.next_book is None:
                return code
            shown, theme, job, matrix = app.next_book, app.theme_name, None, None
    finally:
        gc.enable()


def _run(app: MatrixCheckApp) -> int:
    from matrixcheck.tui.terminal import TerminalDriver, check_terminal  # noqa: PLC0415

    if app.driver_class is TerminalDriver:
        check_terminal()
    gc.freeze()
    try:
        app.run()
    finally:
        lost = app.keeping.close()
    if lost:
        why = app.keeping.trouble
        raise BookError(f"not kept: {', '.join(lost)}: {why.message if why else 'the program ended before'}")
    return app.return_code or 0
