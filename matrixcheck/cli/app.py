"""The command line put together: the groups, the options before the command, and what happens without one."""

import gc
import sys
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Annotated, Any

import typer

from matrixcheck import __version__
from matrixcheck.cli import (
    analysis,
    books,
    config,
    demo,
    functions,
    jobs,
    layouts,
    marks,
    photos,
    rates,
    repairs,
    safety,
    serve,
    sheets,
)
from matrixcheck.cli.common import Settings, open_screens
from matrixcheck.errors import UsageError


class _BookFirst(typer.core.TyperGroup):
    """The program, where `--book PATH` may stand anywhere."""

    def make_context(self, info_name: str | None, args: list[str], parent: Any = None, **extra: Any) -> Any:
        return super().make_context(info_name, book_first(args), parent, **extra)


app = typer.Typer(
    help="Record what a machine's test mode shows, track what is untested, and find what failures share.\n\n"
    "Without a command, on a terminal, the screens open at the bench.",
    epilog="Begin with: matrixcheck job new LAYOUT --name TEXT\n\n"
    "Exit codes: 0 done, 1 problems were found, 2 wrong use, 3 input refused, 4 the book is damaged or locked, "
    "5 the program failed.",
    cls=_BookFirst,
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def book_first(args: Sequence[str]) -> list[str]:
    """Return the arguments with `--book PATH` moved to the front, so that it may stand after the command as well.

    Raises UsageError when no path follows.
    """
    end = args.index("--") if "--" in args else len(args)
    front: list[str] = []
    rest: list[str] = []
    words = iter(args[:end])
    for word in words:
        if word == "--book":
            path = next(words, None)
            if path is None:
                raise UsageError("--book needs a path", "name the bench book after it")
            front += [word, path]
        elif word.startswith("--book="):
            front.append(word)
        else:
            rest.append(word)
    return [*front, *rest, *args[end:]]


def _version(asked: bool) -> None:
    if asked:
        print(f"matrixcheck {__version__}")
        raise typer.Exit


@app.callback()
def root(
    context: typer.Context,
    book: Annotated[
        Path | None,
        typer.Option(
            "--book",
            metavar="PATH",
            readable=False,
            help="The bench book to use; it comes before MATRIXCHECK_BOOK and the configuration. May also stand after "
            "the command.",
            show_default=False,
        ),
    ] = None,
    version: Annotated[  # noqa: ARG001 - its callback answers
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    """Keep what was said before the command. Without a command the screens open, where there is a terminal."""
    context.obj = Settings(book)
    if context.invoked_subcommand is not None:
        return
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("no command given, and the screens need a terminal", "see `matrixcheck --help`")
    open_screens(context, None)


for group in (
    marks,
    photos,
    safety,
    functions,
    repairs,
    jobs,
    books,
    analysis,
    rates,
    layouts,
    sheets,
    serve,
    demo,
    config,
):
    group.add_to(app)


@cache
def program() -> Any:
    """Return all of it as one command, put together once a process: that takes longer than many a command.

    All that was imported for it stays as long, and is left out when garbage is collected.
    """
    whole = typer.main.get_command(app)
    gc.freeze()
    return whole
