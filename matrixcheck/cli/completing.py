"""What the shell may complete: jobs of the book, layouts, matrices, cells, parts, settings.

The book is only read, and nothing heavy is imported: a person waits at the key. What a value stands for is said beside
it in shells that show that. Shells take what they are given for words of their own, so values and what is said of them
hold no sign that means anything to one.
"""

import re
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from matrixcheck.cli.common import Settings

if TYPE_CHECKING:
    from matrixcheck.bench import Bench
    from matrixcheck.record.job_state import JobState

Offer = tuple[str, str]
"""A value, and what is said of it."""

_ONE_WORD = re.compile(r"[\w.+/-]+", re.ASCII)


def offered(values: Iterable[Offer], incomplete: str) -> list[Offer]:
    """Return the values that begin as it was typed, those that a shell takes for one word."""
    return [
        (value, _harmless(says))
        for value, says in values
        if value.startswith(incomplete) and _ONE_WORD.fullmatch(value)
    ]


def one_of(*words: str) -> Callable[[str], list[Offer]]:
    """Return what completes a word that is one of these."""

    def complete(incomplete: str) -> list[Offer]:
        return offered(((word, "") for word in words), incomplete)

    return complete


def jobs(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete a job of the book by its id, with its name beside it."""
    with _bench(context) as bench:
        return offered(((one.id, one.name) for one in bench.jobs()), incomplete)


def layouts(incomplete: str) -> list[Offer]:
    """Complete a layout that comes with the program, or a layout file of the folder that was typed."""
    from matrixcheck.layout.shipped import shipped

    folder = Path(incomplete if incomplete.endswith("/") else Path(incomplete).parent)
    start = "" if folder == Path() else f"{folder}/"
    own = ((f"{start}{path.name}", "a file here") for path in sorted(folder.glob("*.toml")))
    return offered((*((name, "comes with the program") for name in shipped()), *own), incomplete)


def matrices(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete a matrix of the job, or of the layout, that was named before."""
    named = _named(context, "layout" if "layout" in context.params else "job")
    if "job" in context.params:
        with _state(context) as state:
            return offered(((one.id, one.name) for one in state.layout.matrices), incomplete)
    from matrixcheck.layout.shipped import shipped
    from matrixcheck.layout.toml_file import bytes_of, toml_in

    path = shipped().get(named) or Path(named)
    # Only its ids: checking the whole file would take longer than one waits for a word.
    file = toml_in(bytes_of(path, "layout", path.stat().st_size), named, "layout")
    content = getattr(file, "content", {})
    return offered(((one["id"], one.get("name", "")) for one in content.get("matrix", ())), incomplete)


def cells(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete a cell of the matrix that was named before, by its number."""
    with _state(context) as state:
        matrix = state.layout.matrix(context.params["matrix"])
        return offered(((str(one.number), one.name) for one in matrix.in_walk_order), incomplete)


def places(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete a part, a line or a cell of the job's layout."""
    with _state(context) as state:
        return offered(_places(state), incomplete)


def safety_checks(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete a check before power, where its name is one word: plugs and fuses are."""
    from matrixcheck.record.safety_checks import checklist

    with _state(context) as state:
        several = [("plugs", "all that are open"), ("fuses", "all that are open")]
        return offered((*several, *((one.item, one.about) for one in checklist(state))), incomplete)


def function_lines(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete a list of the rest of the test mode, or a line of one, where its name is one word."""
    from matrixcheck.record.function_lists import SECTIONS, function_lists

    with _state(context) as state:
        lists = ((section, "what is untested of it") for section in SECTIONS)
        return offered((*lists, *((one.item, one.about) for one in function_lists(state))), incomplete)


def settings(incomplete: str) -> list[Offer]:
    """Complete a setting."""
    from matrixcheck.config.settings import SETTINGS
    from matrixcheck.tui.keymap import remappable

    single = ((one.key, one.takes) for one in SETTINGS if not one.table)
    keys = ((f"keys.{name}", action.meaning) for name, (action, _) in remappable().items())
    return offered((*single, *keys), incomplete)


def values(context: typer.Context, incomplete: str) -> list[Offer]:
    """Complete the value of a setting that takes one of a few."""
    from matrixcheck.config.settings import SETTINGS

    words = next((one.words for one in SETTINGS if one.key == context.params["key"]), ())
    return offered(((word, "") for word in words), incomplete)


def _places(state: "JobState") -> Iterator[Offer]:
    layout = state.layout
    for ref in sorted({*layout.part_by_ref, *layout.lines_through}):
        part = layout.part_by_ref.get(ref)
        yield ref, part.name if part else ""
    for matrix in layout.matrices:
        rows, columns = matrix.size
        yield from ((f"{matrix.id}.c{place}", f"column {place}") for place in range(1, columns + 1))
        yield from ((f"{matrix.id}.r{place}", f"row {place}") for place in range(1, rows + 1))
        yield from ((f"{matrix.id}.{cell.number}", cell.name) for cell in matrix.in_walk_order)


@contextmanager
def _bench(context: typer.Context) -> "Iterator[Bench]":
    from matrixcheck.bench import Bench

    bench = Bench(Settings(context.find_root().params.get("book")).configuration.book, patience=0.2)
    try:
        yield bench
    finally:
        bench.close()


@contextmanager
def _state(context: typer.Context) -> "Iterator[JobState]":
    with _bench(context) as bench:
        yield bench.state(_named(context, "job"))


def _named(context: typer.Context, name: str) -> str:
    """Return an argument that stands before; where an option's value is to be completed it lies there unread."""
    return context.params[name] or next(iter(context.args), "")


def _harmless(text: str) -> str:
    """Return a text with blanks for what a shell, or the writer of its lists, would take for a sign."""
    return " ".join("".join(sign if sign.isalnum() or sign in ",.-+/" else " " for sign in text).split())
