"""What the form of a repair says of the name that is typed."""

from __future__ import annotations

from matrixcheck.errors import MatrixCheckError
from matrixcheck.layout.model import Layout
from matrixcheck.report.repairing import ASKED, outside_words, what_is_meant
from matrixcheck.tui.text.spans import Row, wrapped

IN_LAYOUT, OUTSIDE = "it is in the layout after all", "outside the layout: a belt, a flipper link"


def meant(text: str, layout: Layout, outside: bool, key: str, width: int) -> tuple[Row, ...]:
    """Return what a name stands for, or what is wrong with it; `key` says that it is outside the layout."""
    if not text:
        return wrapped(ASKED, width, "quiet")
    if outside:
        return wrapped(outside_words(text), width, "strong")
    try:
        words = what_is_meant(text, layout)
    except MatrixCheckError as error:
        more = f"; {key} keeps it as outside the layout" if "could be" not in error.message else ""
        return wrapped(f"! {error}{more}", width, "alert")
    return wrapped(words, width, "strong")
