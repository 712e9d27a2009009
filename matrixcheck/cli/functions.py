"""The command of the rest of the test mode: it lists its lines, and keeps what came of one."""

from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson, Job
from matrixcheck.cli.as_json import print_json, say_kept_or_json
from matrixcheck.cli.common import bench_of, danger, show_stop
from matrixcheck.cli.showing import show
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.record.events import FunctionVerdict

_HOW = "type good, faulty, flickers or not-fitted"


def checklist(
    context: typer.Context,
    job: Job,
    item: Annotated[
        str | None,
        typer.Argument(
            metavar="[LINE]",
            help="A line, a whole list for what is untested of it, or 'sound: knocker' for one of your own.",
            show_default=False,
            autocompletion=completing.function_lines,
        ),
    ] = None,
    result: Annotated[
        str | None,
        typer.Argument(
            metavar="[RESULT]",
            help="good, faulty, flickers (it comes and goes), or not-fitted.",
            show_default=False,
            autocompletion=completing.one_of("good", "faulty", "flickers", "not-fitted"),
        ),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)] = "",
    as_json: AsJson = False,
) -> None:
    """List the rest of the test mode, or keep what came of a line."""
    bench = bench_of(context)
    if item is None:
        _list(context, job, as_json)
        return
    if result is None:
        raise UsageError("checklist needs a result", _HOW)
    made = bench.function(job, item, _verdict(result), note)
    from matrixcheck.record.summary import VERDICT_WORDS

    said = VERDICT_WORDS[made[0].verdict]
    names = [f"{one.section}: {one.item}" for one in made]
    kept = f"kept  {names[0]} {said}" if len(made) == 1 else f"kept  {len(made)} {said}: {', '.join(names)}"
    from matrixcheck.report.act_data import functions_kept

    state = bench.state(job)
    say_kept_or_json([kept, *danger(state)], lambda: functions_kept(made, state), as_json)


def _list(context: typer.Context, job: str, as_json: bool) -> None:
    from matrixcheck.record.function_lists import function_lists

    state = bench_of(context).state(job)
    lines = function_lists(state)
    if as_json:
        from matrixcheck.report.data import functions_data

        print_json(functions_data(lines, state))
        return
    if state.coils.stop:
        show_stop(state)
        return
    from matrixcheck.report.safety import failed_lines
    from matrixcheck.report.tables import function_table

    show(*failed_lines(state.safety), *function_table(lines))


def _verdict(word: str) -> "FunctionVerdict":
    known: dict[str, FunctionVerdict] = {
        "good": "good",
        "faulty": "faulty",
        "flickers": "comes and goes",
        "not-fitted": "not fitted",
    }
    try:
        return known[word.strip().lower()]
    except KeyError:
        raise UsageError(f"'{word:.40}' is not a result", _HOW) from None


def add_to(app: typer.Typer) -> None:
    """Put this command into the program."""
    app.command("checklist")(checklist)
