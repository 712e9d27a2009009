"""Results for people on standard output: tables, grids and answers, on a terminal with colour."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from matrixcheck.report.answer.text import Line


def console() -> Console:
    """Return standard output for people.

    It is as wide as the terminal, 80 columns elsewhere; colour only where it is wanted.
    """
    from matrixcheck.cli.careful import CarefulConsole
    from matrixcheck.cli.colours import THEME

    return CarefulConsole(theme=THEME, highlight=False, markup=False, emoji=False)


def show_lines(lines: Iterable[Line]) -> None:
    """Print the lines of an answer; on a terminal the strong ones bold, states in their colours."""
    from matrixcheck.cli.colours import coloured

    show(*(coloured(line.text, "bold" if line.strong else "") for line in lines))


def show(*parts: RenderableType) -> None:
    """Print rich renderables on standard output; in a pipe, without blanks at the ends of lines."""
    from matrixcheck.cli.colours import coloured

    out = console()
    with out.capture() as captured:
        for part in parts:
            out.print(coloured(part) if isinstance(part, str) else part)
    text = captured.get()
    print(text if out.is_terminal else "\n".join(line.rstrip() for line in text.split("\n")), end="")
