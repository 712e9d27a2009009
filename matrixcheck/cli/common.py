"""What the commands share: the way to the book, to layouts and cells, and to what is typed or read."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import typer

from matrixcheck.cli.showing import show
from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.limits import SEARCH_SECONDS

if TYPE_CHECKING:
    from matrixcheck.bench import Bench
    from matrixcheck.config.configuration import Configuration
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.layout.model import Layout, Matrix
    from matrixcheck.layout.places import CellKey
    from matrixcheck.record.job_state import JobState

LARGEST_INPUT = 64_000_000


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
    from matrixcheck.config.rates import rates_for_screens
    from matrixcheck.record import clients
    from matrixcheck.tui.run import run

    holds = configuration_of(context)
    code = run(
        holds.book,
        job,
        client=clients.terminal(),
        initials=holds.initials,
        rates=rates_for_screens(holds),
        look=holds.look,
        keep_theme=partial(keep_theme, os.environ),
        make_demo=partial(_demo_book, holds.book),
    )
    raise typer.Exit(code)


def _demo_book(own: Path) -> Path:
    # Few look at it, and it is made with much that the screens start without.
    from matrixcheck.cli.demo_book import demo_book

    return demo_book(own)


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


def bytes_of(name: str, what: str, largest: int) -> tuple[bytes, str]:
    """Return what a file holds, or standard input for `-`, and what to call it. Raises InputError.

    `what` says what sort of file it is to be; one of more than `largest` bytes is refused.
    """
    source = "standard input" if name == "-" else name
    if not name:
        raise InputError(f"the {what} has no name", f"name a {what}, or - for standard input")
    try:
        if name == "-":
            raw = sys.stdin.buffer.read(largest + 1)
        else:
            with Path(name).open("rb") as file:
                raw = file.read(largest + 1)
    except (OSError, ValueError) as error:
        reason = (error.strerror if isinstance(error, OSError) else "") or str(error)
        raise InputError(f"{source}: {reason}", f"name a {what}, or - for standard input") from None
    if len(raw) > largest:
        raise InputError(f"{source}: more than {largest // 1000**2} MB", f"give a smaller {what}")
    return raw, source


def text_of(name: str, what: str = "readings file", largest: int = LARGEST_INPUT) -> tuple[str, str]:
    """Return the same of a file of text."""
    raw, source = bytes_of(name, what, largest)
    try:
        return raw.decode("utf-8-sig"), source
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(f"{source}:{line}: not UTF-8 text", f"give a {what}: JSON Lines") from None


def danger(state: JobState) -> tuple[str, ...]:
    """Return what to do now about a coil that is on at rest, if one is."""
    from matrixcheck.report.stop import danger_lines

    return danger_lines(state.coils, state.id)


def show_stop(state: JobState) -> None:
    """Say that the power must be off, and how to record that the coil fuse is out."""
    show(*danger(state))
