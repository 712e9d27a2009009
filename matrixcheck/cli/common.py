"""What the commands share: their arguments, the way to the book, and how results are printed."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from matrixcheck.cli.outputs import print_whole
from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.limits import SEARCH_SECONDS

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

    from matrixcheck.bench import Bench
    from matrixcheck.config.configuration import Configuration
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.layout.model import Layout, Matrix
    from matrixcheck.layout.places import CellKey
    from matrixcheck.record.job_state import JobState
    from matrixcheck.report.answer.text import Line

LARGEST_INPUT = 64 * 1024 * 1024

Job = Annotated[
    str, typer.Argument(metavar="JOB", help="The job's short id, or a unique start of it.", show_default=False)
]
LayoutName = Annotated[
    str, typer.Argument(metavar="LAYOUT", help="A layout file, or the name of a shipped one.", show_default=False)
]
MatrixName = Annotated[
    str, typer.Argument(metavar="MATRIX", help="The matrix's id, as the layout has it.", show_default=False)
]
Seconds = Annotated[
    float | None,
    typer.Option(
        "--seconds",
        metavar="N",
        help="Look no longer than this, 0.001 to 86,400 seconds; without it the search goes on until it is finished. "
        "The answer begins with what was left out.",
        show_default=False,
    ),
]
RatesFile = Annotated[
    Path | None,
    typer.Option(
        "--rates",
        metavar="FILE",
        help="A file with rates of faults and of wrong readings of your own, in place of the shipped ones.",
        show_default=False,
    ),
]
Learned = Annotated[
    bool, typer.Option("--learned", help="Let what the closed repairs of this book say move the rates.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print everything as JSON, for other programs.")]


@dataclass(frozen=True)
class Settings:
    """What was said before the command. `book` is None where no option named it."""

    book: Path | None

    @cached_property
    def configuration(self) -> Configuration:
        """Return what holds; the file is read once."""
        from matrixcheck.config.place import load

        return load(os.environ, {} if self.book is None else {"book": self.book})


def configuration_of(context: typer.Context) -> Configuration:
    """Return what holds of all that can be set. Raises InputError, UsageError."""
    settings: Settings = context.obj
    return settings.configuration


def book_path(context: typer.Context) -> Path:
    """Return where the bench book lies."""
    return configuration_of(context).book


def bench_of(context: typer.Context, rates: Rates | None = None) -> Bench:
    """Give the use cases, on the bench book that was asked for; it is let go when the command ends.

    `rates` are the workshop's own. Commands that analyse nothing do without: a wrong file of rates must not hold up a
    mark.
    """
    from matrixcheck.bench import Bench
    from matrixcheck.record import clients

    holds = configuration_of(context)
    bench = Bench(holds.book, client=clients.command_line(), initials=holds.initials, rates=rates)
    context.call_on_close(bench.close)
    return bench


def open_screens(context: typer.Context, job: str | None) -> NoReturn:
    """Run the terminal screens until they are left; a theme that is chosen there stays chosen."""
    from matrixcheck.config.place import keep_theme
    from matrixcheck.record import clients
    from matrixcheck.tui.run import run

    holds = configuration_of(context)
    code = run(
        holds.book,
        job,
        client=clients.terminal(),
        initials=holds.initials,
        rates=rates_of(context),
        look=holds.look,
        keep_theme=partial(keep_theme, os.environ),
    )
    raise typer.Exit(code)


def limit_of(seconds: float | None) -> float | None:
    """Return the limit that was asked for. Raises UsageError where nobody can keep to it."""
    if seconds is not None and not SEARCH_SECONDS.holds(seconds):
        raise UsageError(f"--seconds is a time from {SEARCH_SECONDS}, not {seconds:g}", "leave it out for no limit")
    return seconds


def rates_of(context: typer.Context, option: Path | None = None, *, learned: bool = False) -> Rates | None:
    """Return the rates that hold: of the file that an option names, else as they are set; None for the shipped ones.

    `learned`: moved by the book's closed repairs, whatever is set.
    """
    from matrixcheck.config.rates import rates_in_use

    return rates_in_use(configuration_of(context), option, learned=learned)


def layout_of(name_or_path: str) -> Layout:
    """Return the layout in a file, or the shipped one of that name."""
    from matrixcheck.layout.files import find_layout, read_layout

    return read_layout(find_layout(name_or_path))


def cells_of(words: Sequence[str], matrix: Matrix, layout: Layout) -> tuple[CellKey, ...]:
    """Return fitted cells given as numbers, addresses, or any name that the program writes a cell or a line with.

    Raises InputError for any other.
    """
    from matrixcheck.record.entry import parse_places

    keys = parse_places(places_text(words, matrix, layout), matrix)
    for key in keys:
        if key not in matrix.by_key:
            raise InputError(f"{matrix.id}: nothing is fitted at {key.address}", "name fitted cells")
    return keys


def places_text(words: Sequence[str], matrix: Matrix, layout: Layout) -> str:
    """Return the places of a matrix as the entry notation lists them: numbers and addresses.

    A name of a cell or a line becomes the addresses that it stands for. Raises UsageError for one of another matrix.
    """
    from matrixcheck.layout.naming import cells_named
    from matrixcheck.record.entry import Places

    places = Places(matrix)
    found: list[str] = []
    for word in words:
        parts = word.replace(",", " ").lower().split()
        is_name = len(parts) > 1 or "." in word
        if is_name and not all(map(places.may_be, parts)):
            found += [key.address for key in cells_named(word, matrix, layout)]
        else:
            found += parts
    return " ".join(found)


def text_of(name: str, what: str = "readings file") -> tuple[str, str]:
    """Return the text of a file, or of standard input for `-`, and what to call it. Raises InputError.

    `what` says what sort of file it is to be.
    """
    source = "standard input" if name == "-" else name
    if not name:
        raise InputError(f"the {what} has no name", f"name a {what}, or - for standard input")
    try:
        if name == "-":
            raw = sys.stdin.buffer.read(LARGEST_INPUT + 1)
        else:
            with Path(name).open("rb") as file:
                raw = file.read(LARGEST_INPUT + 1)
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else "") or str(error)
        raise InputError(f"{source}: {reason}", f"name a {what}, or - for standard input") from None
    if len(raw) > LARGEST_INPUT:
        raise InputError(f"{source}: more than {LARGEST_INPUT // 1024**2} MB", f"give a {what} of one machine")
    try:
        return raw.decode("utf-8-sig"), source
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(f"{source}:{line}: not UTF-8 text", f"give a {what}: JSON Lines") from None


def json_text(data: Any) -> str:
    """Return JSON that people can read too. What would steer a terminal is written as JSON's own escape."""
    import json

    from matrixcheck.layout.problems import visible

    text = json.dumps(data, ensure_ascii=False, indent=1)
    steering = (sign for sign in set(text) - {"\n"} if visible(sign) != sign)
    return text.translate({ord(sign): f"\\u{ord(sign):04x}" for sign in steering}) + "\n"


def print_json(data: Any) -> None:
    """Print JSON on standard output."""
    print_whole(json_text(data))


def danger(state: JobState) -> tuple[str, ...]:
    """Return what to do now about a coil that is on at rest, if one is."""
    from matrixcheck.report.stop import danger_lines

    return danger_lines(state.coils, state.id)


def show_stop(state: JobState) -> None:
    """Say that the power must be off, and how to record that the coil fuse is out."""
    show(*danger(state))


def console() -> Console:
    """Return standard output for people.

    It is as wide as the terminal, 80 columns elsewhere; colour only where it is wanted.
    """
    from matrixcheck.cli.careful import CarefulConsole

    return CarefulConsole(highlight=False, markup=False, emoji=False)


def show_lines(lines: Iterable[Line]) -> None:
    """Print the lines of an answer; the strong ones bold on a terminal."""
    from rich.text import Text

    show(*(Text(line.text, "bold" if line.strong else "") for line in lines))


def show(*parts: RenderableType) -> None:
    """Print rich renderables on standard output; in a pipe, without blanks at the ends of lines."""
    out = console()
    with out.capture() as captured:
        for part in parts:
            out.print(part)
    text = captured.get()
    print(text if out.is_terminal else "\n".join(line.rstrip() for line in text.split("\n")), end="")
