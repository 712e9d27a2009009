"""Commands that put right: repairs and their retests, and what was recorded by mistake."""

import sys
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson, Job
from matrixcheck.cli.as_json import say_kept_or_json
from matrixcheck.cli.common import bench_of, danger
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.bench import LastEntry

Event = Annotated[
    int | None,
    typer.Argument(metavar="[EVENT]", help="The event's number, as `log` shows it.", show_default=False),
]


def undo(
    context: typer.Context,
    job: Job,
    event: Event = None,
    yes: Annotated[bool, typer.Option("--yes", help="Undo it even if another program or page recorded it.")] = False,
    as_json: AsJson = False,
) -> None:
    """Undo what was recorded last, or strike out one event. The history keeps both.

    Asks first where another program or page recorded what is undone last.
    """
    bench = bench_of(context)
    if event is not None:
        gone = bench.undo(job, event=event)
    else:
        last = bench.last_entry(job)
        if last.client not in ("", bench.by.id) and not yes and not _agreed(last, may_ask=not as_json):
            print("nothing undone", file=sys.stderr)
            return
        gone = bench.undo(job, last.batch)
    from matrixcheck.report.act_data import undone_data

    state = bench.state(job)
    said = (*(f"undone  {words}" for words in gone.what), *(f"counts again  {words}" for words in gone.back))
    say_kept_or_json([*said, *danger(state)], lambda: undone_data(gone, state), as_json)


def redo(context: typer.Context, job: Job, event: Event = None, as_json: AsJson = False) -> None:
    """Take back the last undo, or that of one event."""
    from matrixcheck.report.act_data import redone_data

    bench = bench_of(context)
    back = bench.redo(job, event=event)
    state = bench.state(job)
    said = (*(f"redone  {words}" for words in back.what), *(f"undone  {words}" for words in back.back))
    say_kept_or_json([*said, *danger(state)], lambda: redone_data(back, state), as_json)


def _agreed(last: "LastEntry", may_ask: bool) -> bool:
    """Return whether the person wants to undo what another client recorded.

    Raises UsageError where nobody can be asked.
    """
    who = f"{last.initials} at {last.client}" if last.initials else last.client
    more = f" and {len(last.what) - 1} more" if len(last.what) > 1 else ""
    said = f"the last entry is not yours: {last.what[0]}{more} (by {who})"
    if not (may_ask and sys.stdin.isatty()):
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
            autocompletion=completing.places,
        ),
    ],
    did: Annotated[str, typer.Option("--did", metavar="TEXT", help="What was done.", show_default=False)] = "",
    fitted: Annotated[str, typer.Option("--fitted", metavar="TEXT", help="What was put in.", show_default=False)] = "",
    value: Annotated[
        str, typer.Option("--value", metavar="TEXT", help="Its rating, or what was measured.", show_default=False)
    ] = "",
    outside: Annotated[bool, typer.Option("--outside", help="Not in the layout: a belt, a flipper link.")] = False,
    note: Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)] = "",
    as_json: AsJson = False,
) -> None:
    """Keep a repair. The cells behind it are due to be tested again."""
    from matrixcheck.layout.wording import place_words
    from matrixcheck.report.act_data import repaired_data

    bench = bench_of(context)
    made = bench.repair(job, what, note, did=did, fitted=fitted, value=value, outside=outside)
    count = len(made.due)
    due = f"{count} {'cell is' if count == 1 else 'cells are'} due to be tested again"
    state = bench.state(job)
    hint = [f"next  matrixcheck retest {state.id}"] if count and not state.coils.stop else []
    place = made.place if outside else place_words(state.layout, made.place)
    lines = [f"kept  {place} repaired; {due}", *hint, *danger(state)]
    say_kept_or_json(lines, lambda: repaired_data(made, state), as_json)


def retest(
    context: typer.Context,
    job: Job,
    matrix: Annotated[
        str,
        typer.Option(
            "--matrix",
            metavar="ID",
            help="This matrix; by default the first with any due.",
            autocompletion=completing.matrices,
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Start a round over just what is due for a retest. Lists the cells."""
    from matrixcheck.report.act_data import retest_data
    from matrixcheck.report.tables import retest_lines

    bench = bench_of(context)
    name, cells = bench.start_retest(job, matrix)
    state = bench.state(job)
    say_kept_or_json(retest_lines(state, name, cells), lambda: retest_data(state, name, cells), as_json)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    for command in (undo, redo, repair, retest):
        app.command(command.__name__)(command)
