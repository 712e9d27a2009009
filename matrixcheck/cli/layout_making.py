"""Commands that make layout files: from charts, or from sizes alone; they ask on a terminal."""

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.arguments import AsJson
from matrixcheck.cli.as_json import print_json, print_written, refuse_two_outputs
from matrixcheck.cli.outputs import Output, hand_over
from matrixcheck.cli.progress import progress
from matrixcheck.cli.saying import clean, say
from matrixcheck.cli.showing import console
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.layout.blank import Plan
    from matrixcheck.layout.charts.questions import Question
    from matrixcheck.layout.charts.sheets import Sheet

Out = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="The layout file to write, - for standard output.", show_default=False),
]
Yes = Annotated[
    bool, typer.Option("--yes", help="Ask nothing: use the options and the best guesses, and list the guesses.")
]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Overwrite an existing file.")]


def import_(
    charts: Annotated[
        list[str],
        typer.Argument(
            metavar="CHART",
            help="CSV, tabs or semicolons, .xlsx, .ods; - for text on standard input. Several make one layout.",
            show_default=False,
        ),
    ],
    out: Out,
    name: Annotated[
        str | None, typer.Option("--name", metavar="TEXT", help="The machine's name.", show_default=False)
    ] = None,
    yes: Yes = False,
    take: Annotated[
        list[str] | None,
        typer.Option("--take", metavar="KEY=VALUE", help="Answer a question beforehand.", show_default=False),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a layout of charts as the manual prints them. Shows what it understood before it writes."""
    from matrixcheck.layout.charts.importing import import_charts
    from matrixcheck.layout.charts.questions import Answers
    from matrixcheck.layout.charts.understood import understood_lines

    refuse_two_outputs(as_json, [out])
    refuse_lost(out, overwrite)
    asks = not (yes or as_json) and "-" not in charts and str(out) != "-" and _can_ask()
    answers = Answers(_answers(take or []), _asked if asks else lambda _: None)
    with nullcontext() if asks else progress("reading the charts …"):
        imported = import_charts([sheet for chart in charts for sheet in _sheets(chart)], name, answers, str(out))
    if as_json:
        from matrixcheck.report.layout_data import imported_data

        print_json(imported_data(imported, _write(out, imported.text)))
        raise typer.Exit(1 if imported.problems else 0)
    to_stdout = str(out) == "-"
    lines = understood_lines(imported, console().width)
    for line in lines:
        print(clean(line), file=sys.stderr) if to_stdout else say(line)
    if asks and not typer.confirm(f"\nWrite {out}?", default=True):
        say("Nothing was written.")
        raise typer.Exit
    if not to_stdout:
        say("")
    _say_written(_write(out, imported.text))
    if imported.problems:
        raise typer.Exit(1)


def new(
    out: Out,
    name: Annotated[
        str | None, typer.Option("--name", metavar="TEXT", help="The machine's name.", show_default=False)
    ] = None,
    matrix: Annotated[
        list[str] | None,
        typer.Option(
            "--matrix",
            metavar="TEXT",
            help="Kind, size, and what the test calls column 2, row 1: 'switch 8x8 21', 'coil 2x16 17 K1' (with the "
            "relay), 'inputs 6', 'lighting 3x5'. Give one for each matrix.",
            show_default=False,
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Make a layout from sizes alone. Asks for each matrix, or takes options; names are filled in later."""
    from matrixcheck.layout.blank import blank_layout, plan_of

    refuse_two_outputs(as_json, [out])
    refuse_lost(out, overwrite)
    asks = not as_json and str(out) != "-" and _can_ask()
    plans = [plan_of(text) for text in matrix or []]
    if not plans and not asks:
        raise UsageError("no matrix was named", "add --matrix 'switch 8x8 21', one for each")
    if not name:
        name = str(typer.prompt("The machine's name")) if asks else out.stem
    if not plans:
        plans = _asked_plans()
    written = _write(out, blank_layout(name, plans))
    if as_json:
        print_written(written)
    else:
        _say_written(written)


def _can_ask() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _asked_plans() -> "list[Plan]":
    """Ask for one matrix after the other until there is no more."""
    from matrixcheck.layout.blank import SHAPES, WORDING, example_place, plan_of

    plans: list[Plan] = []
    say(f"One matrix a line: {', '.join(SHAPES)}, columns x rows, as in: switch 8x8. Enter ends the list.")
    while True:
        text = str(typer.prompt(f"Matrix {len(plans) + 1}", default="", show_default=False)).strip()
        if not text:
            if plans:
                return plans
            say(f"At least one: {WORDING}")
            continue
        try:
            plan = plan_of(text)
            if len(text.split()) == 2 and plan.shape not in ("inputs", "lighting"):
                column, row = example_place(plan.columns, plan.rows)
                number = str(typer.prompt(f"What does the test call column {column}, row {row}?")).strip()
                plan = plan_of(f"{text} {number}")
                if plan.shape == "coil" and plan.columns == 2:
                    relay = str(typer.prompt("Relay that changes the sides, as K1", default="", show_default=False))
                    plan = plan_of(f"{text} {number} {relay}")
        except UsageError as error:
            say(str(error))
            continue
        plans.append(plan)


def _sheets(chart: str) -> "list[Sheet]":
    from matrixcheck.layout.charts.sheets import LARGEST_CHART, decoded, read_sheets, text_sheet

    if chart != "-":
        return read_sheets(Path(chart))
    data = sys.stdin.buffer.read(LARGEST_CHART + 1)
    if len(data) > LARGEST_CHART:
        raise UsageError("standard input is not a chart: it is too large", "give the chart of one machine")
    return [text_sheet(decoded(data, "standard input"), "standard input")]


def _write(out: Path, text: str) -> list[Path]:
    """Write a layout, and the schema that its first line names beside it, where there is none yet.

    Returns the files; none for standard output.
    """
    from matrixcheck.layout.schema import NAME, layout_schema

    outputs = [Output(out, text)]
    schema = out.with_name(NAME) if out.name else out
    beside = str(out) != "-" and out.name != NAME and not schema.exists()
    if beside:
        outputs.append(Output(schema, layout_schema()))
    hand_over(outputs)
    return [output.path for output in outputs if str(out) != "-"]


def _say_written(files: list[Path]) -> None:
    if files:
        layout, *schema = files
        say(f"Written: {layout}" + (f", and {schema[0]} for your editor" if schema else ""))


def _answers(take: list[str]) -> dict[str, str]:
    answers = {}
    for text in take:
        key, mark, value = text.partition("=")
        if not mark or not key.strip():
            raise UsageError(f"--take {text!r} has no value", "write --take KEY=VALUE, as in --take wire.GR=GN")
        answers[key.strip()] = value.strip()
    return answers


def _asked(question: "Question") -> str:
    """Ask on the terminal until the answer is one that can be taken."""
    options = {option.casefold(): option for option in question.options}
    while True:
        text, best = question.text, question.best
        answer = str(typer.prompt(text, default=best, show_default=bool(best), prompt_suffix="\n> ")).strip()
        if not options:
            return answer
        if answer.casefold() in options:
            return options[answer.casefold()]
        say(f"take one of {', '.join(filter(None, question.options))}" + (", or nothing" if "" in options else ""))


def refuse_lost(out: Path, overwrite: bool) -> None:
    """Raise UsageError where a file would be lost: what was put right by hand in it is nowhere else."""
    if not overwrite and str(out) != "-" and out.exists():
        raise UsageError(f"{str(out)!r} is there already", "name another file, or add --overwrite")


def add_to(group: typer.Typer) -> None:
    """Put these commands into the group of commands on layouts."""
    group.command("import")(import_)
    group.command("new")(new)
