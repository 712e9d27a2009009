"""Commands that put right: repairs and their retests, and what was recorded by mistake."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.arguments import Job
from matrixcheck.cli.common import bench_of, danger
from matrixcheck.cli.saying import say_kept
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.bench import LastEntry, Undone

Event = Annotated[
    int | None,
    typer.Argument(metavar="[EVENT]", help="The event's number, as `log` shows it.", show_default=False),
]


def undo(
    context: typer.Context,
    job: Job,
    event: Event = None,
    yes: Annotated[bool, typer.Option("--yes", help="Undo it even if another program or page recorded it.")] = False,
) -> None:
    """Undo what was recorded last, or strike out one event. The history keeps both.

    Asks first where another program or page recorded what is undone last.
    """
    bench = bench_of(context)
    if event is not None:
        say_kept(*_undone(bench.undo(job, event=event)), *danger(bench.state(job)))
        return
    last = bench.last_entry(job)
    if last.client not in ("", bench.by.id) and not yes and not _agreed(last):
        print("nothing undone", file=sys.stderr)
        return
    say_kept(*_undone(bench.undo(job, last.batch)), *danger(bench.state(job)))


def redo(context: typer.Context, job: Job, event: Event = None) -> None:
    """Take back the last undo, or that of one event."""
    bench = bench_of(context)
    back = bench.redo(job, event=event)
    said = (*(f"redone  {words}" for words in back.what), *(f"undone  {words}" for words in back.back))
    say_kept(*said, *danger(bench.state(job)))


def _undone(gone: "Undone") -> tuple[str, ...]:
    return (*(f"undone  {words}" for words in gone.what), *(f"counts again  {words}" for words in gone.back))


def _agreed(last: "LastEntry") -> bool:
    """Return whether the person wants to undo what another client recorded.

    Raises UsageError where nobody can be asked.
    """
    who = f"{last.initials} at {last.client}" if last.initials else last.client
    more = f" and {len(last.what) - 1} more" if len(last.what) > 1 else ""
    said = f"the last entry is not yours: {last.what[0]}{more} (by {who})"
    if not sys.stdin.isatty():
        raise UsageError(said, "add --yes to undo it anyway")
    print(f"{said}. Undo it? [y/N] ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def repair(
    context: typer.Context,
    job: Job,
    what: Annotated[
        str,
        typer.Argument(
            metavar="WHAT",
            help="A part, line or cell by name: Q3, 'switch column 3', 'lamp 21'. With --outside anything.",
            show_default=False,
        ),
    ],
    did: Annotated[str, typer.Option("--did", metavar="TEXT", help="What was done.", show_default=False)] = "",
    fitted: Annotated[str, typer.Option("--fitted", metavar="TEXT", help="What was put in.", show_default=False)] = "",
    value: Annotated[
        str, typer.Option("--value", metavar="TEXT", help="Its rating, or what was measured.", show_default=False)
    ] = "",
    outside: Annotated[bool, typer.Option("--outside", help="Not in the layout: a belt, a flipper link.")] = False,
    note: Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)] = "",
) -> None:
    """Keep a repair. The cells behind it are due to be tested again."""
    from matrixcheck.layout.wording import place_words

    bench = bench_of(context)
    made = bench.repair(job, what, note, did=did, fitted=fitted, value=value, outside=outside)
    count = len(made.due)
    due = f"{count} {'cell is' if count == 1 else 'cells are'} due to be tested again"
    state = bench.state(job)
    hint = [f"next  matrixcheck retest {state.id}"] if count and not state.coils.stop else []
    place = made.place if outside else place_words(state.layout, made.place)
    say_kept(f"kept  {place} repaired; {due}", *hint, *danger(state))


def retest(
    context: typer.Context,
    job: Job,
    matrix: Annotated[
        str, typer.Option("--matrix", metavar="ID", help="This matrix; by default the first with any due.")
    ] = "",
) -> None:
    """Start a round over just what is due for a retest. Lists the cells."""
    from matrixcheck.report.tables import retest_lines

    bench = bench_of(context)
    name, cells = bench.start_retest(job, matrix)
    state = bench.state(job)
    say_kept(*retest_lines(state, name, cells))


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    for command in (undo, redo, repair, retest):
        app.command(command.__name__)(command)
