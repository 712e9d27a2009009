"""Commands on layout files: check one, make one of charts or from nothing, list, show and print them."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.common import AsJson, LayoutName, console, layout_of, print_json
from matrixcheck.cli.outputs import Output, hand_over, print_whole
from matrixcheck.cli.saying import say
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.layout.blank import Plan
    from matrixcheck.layout.charts.questions import Question
    from matrixcheck.layout.charts.sheets import Sheet
    from matrixcheck.layout.model import Layout, Matrix

layout_commands = typer.Typer(help="Look after layout files.")

Out = Annotated[
    Path,
    typer.Option("--out", metavar="FILE", help="The layout file to write, - for standard output.", show_default=False),
]
Yes = Annotated[
    bool, typer.Option("--yes", help="Ask nothing: take options and the best reading, and list the guesses.")
]
Overwrite = Annotated[bool, typer.Option("--overwrite", help="Write over a file that is there already.")]


@layout_commands.command("check")
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The layout file.", readable=False, show_default=False)],
    strict: Annotated[bool, typer.Option("--strict", help="Take warnings for errors.")] = False,
    as_json: AsJson = False,
) -> None:
    """Report every problem of a layout file. One a line; exit code 1 when there are errors, warnings alone are 0."""
    from matrixcheck.layout.files import look_over

    problems = look_over(file)
    errors = [problem for problem in problems if strict or problem.severity == "error"]
    if as_json:
        from matrixcheck.report.data import problems_data

        print_json(problems_data(problems))
    elif problems:
        say("\n".join(problem.in_full() for problem in problems))
    else:
        say(f"{file}: no problems found")
    if errors:
        raise typer.Exit(1)


@layout_commands.command("import")
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
) -> None:
    """Make a layout of charts as the manual prints them. Shows what it understood before it writes."""
    from matrixcheck.layout.charts.importing import import_charts
    from matrixcheck.layout.charts.questions import Answers
    from matrixcheck.layout.charts.telling import understood_lines

    _refuse_lost(out, overwrite)
    asks = not yes and "-" not in charts and str(out) != "-" and sys.stdin.isatty() and sys.stdout.isatty()
    answers = Answers(_answers(take or []), _asked if asks else lambda _: None)
    imported = import_charts([sheet for chart in charts for sheet in _sheets(chart)], name, answers, str(out))
    to_stdout = str(out) == "-"
    lines = understood_lines(imported, console().width)
    for line in lines:
        print(line, file=sys.stderr) if to_stdout else say(line)
    if asks and not typer.confirm(f"\nWrite {out}?", default=True):
        say("Nothing was written.")
        raise typer.Exit
    if not to_stdout:
        say("")
    _write(out, imported.text)
    if imported.problems:
        raise typer.Exit(1)


@layout_commands.command("new")
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
) -> None:
    """Make a layout from sizes alone. Asks for each matrix, or takes options; names are filled in later."""
    from matrixcheck.layout.blank import blank_layout, plan_of

    _refuse_lost(out, overwrite)
    asks = sys.stdin.isatty() and sys.stdout.isatty() and str(out) != "-"
    plans = [plan_of(text) for text in matrix or []]
    if not plans and not asks:
        raise UsageError("no matrix was named", "add --matrix 'switch 8x8 21', one for each")
    if not name:
        name = str(typer.prompt("The machine's name")) if asks else out.stem
    if not plans:
        plans = _asked_plans()
    _write(out, blank_layout(name, plans))


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


@layout_commands.command("list")
def list_(as_json: AsJson = False) -> None:
    """List the layouts that come with the program."""
    from matrixcheck.layout.files import read_layout, shipped

    found = {name: read_layout(path) for name, path in shipped().items()}
    if as_json:
        print_json(
            {
                "layouts": [
                    {
                        "name": name,
                        "machine": layout.name,
                        "path": str(shipped()[name]),
                        "matrices": [_matrix_data(one) for one in layout.matrices],
                    }
                    for name, layout in found.items()
                ]
            }
        )
        return
    for name, layout in found.items():
        sizes = ", ".join(f"{one.id} {one.size[1]}x{one.size[0]}" for one in layout.matrices)
        say(f"{name}: {layout.name} ({sizes})")


def _matrix_data(matrix: "Matrix") -> dict[str, object]:
    rows, columns = matrix.size
    return {"id": matrix.id, "kind": matrix.kind.value, "rows": rows, "columns": columns}


@layout_commands.command("show")
def show_(
    layout: LayoutName,
    as_toml: Annotated[bool, typer.Option("--toml", help="Print the file itself, to begin one of your own.")] = False,
) -> None:
    """Show a layout: its file, and the charts of its matrices."""
    from matrixcheck.layout.charts.pages import text_of
    from matrixcheck.layout.files import find_layout, read_layout

    path = find_layout(layout)
    if as_toml:
        read_layout(path)
        print_whole(path.read_text(encoding="utf-8-sig"))
        return
    say(f"{path}\n")
    say(text_of(read_layout(path), False, console().width), end="")


@layout_commands.command("chart")
def chart(
    layout: LayoutName,
    to: Annotated[
        Path,
        typer.Option("--to", metavar="FILE", help="A .txt, .html, .svg or .csv file, - for text.", show_default=False),
    ],
    ticks: Annotated[
        bool, typer.Option("--ticks", help="A blank sheet to tick on, with a line below each cell.")
    ] = False,
    matrix: Annotated[
        list[str] | None, typer.Option("--matrix", metavar="ID", help="This matrix only.", show_default=False)
    ] = None,
    overwrite: Overwrite = False,
) -> None:
    """Print the charts of a layout as a manual has them. Says what a chart has no place for."""
    from matrixcheck.layout.charts.pages import of_matrices
    from matrixcheck.layout.charts.printed import not_held

    _refuse_lost(to, overwrite)
    shown = of_matrices(layout_of(layout), matrix or [])
    hand_over([Output(to, _chart_text(shown, to, ticks))])
    if str(to) == "-":
        return
    say(f"Written: {to}")
    lost = list(not_held(shown))
    if lost and not ticks:
        say("A chart has no place for these; they stay in the layout:")
        for line in lost:
            say(f"  {line}")


def _chart_text(layout: "Layout", to: Path, ticks: bool) -> str:
    from matrixcheck.layout.charts.exported import csv_of
    from matrixcheck.layout.charts.pages import drawing_of, page_of, text_of

    suffix = ".txt" if str(to) == "-" else to.suffix.casefold()
    match suffix:
        case ".txt":
            return text_of(layout, ticks, console().width if str(to) == "-" else 100)
        case ".html" | ".htm":
            return page_of(layout, ticks)
        case ".svg":
            return drawing_of(layout, ticks)
        case ".csv" if not ticks:
            return csv_of(layout)
        case ".csv":
            raise UsageError("a sheet to tick on is text, HTML or SVG", "leave out --ticks, or name such a file")
    raise UsageError(f"{str(to)!r} names no kind of chart", "end it with .txt, .html, .svg or .csv")


def _sheets(chart: str) -> "list[Sheet]":
    from matrixcheck.layout.charts.sheets import LARGEST_CHART, decoded, read_sheets, text_sheet

    if chart != "-":
        return read_sheets(Path(chart))
    data = sys.stdin.buffer.read(LARGEST_CHART + 1)
    if len(data) > LARGEST_CHART:
        raise UsageError("standard input is no chart: it is too large", "give the chart of one machine")
    return [text_sheet(decoded(data, "standard input"), "standard input")]


def _write(out: Path, text: str) -> None:
    """Write a layout, and the schema that its first line names beside it, where there is none yet."""
    from matrixcheck.layout.schema import NAME, layout_schema

    outputs = [Output(out, text)]
    schema = out.with_name(NAME) if out.name else out
    beside = str(out) != "-" and out.name != NAME and not schema.exists()
    if beside:
        outputs.append(Output(schema, layout_schema()))
    hand_over(outputs)
    if str(out) != "-":
        say(f"Written: {out}" + (f", and {schema} for your editor" if beside else ""))


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
        answer = str(
            typer.prompt(f"{question.text}\n", default=question.best, show_default=bool(question.best))
        ).strip()
        if not options:
            return answer
        if answer.casefold() in options:
            return options[answer.casefold()]
        say(f"take one of {', '.join(filter(None, question.options))}" + (", or nothing" if "" in options else ""))


def _refuse_lost(out: Path, overwrite: bool) -> None:
    """Raise UsageError where a file would be lost: what was put right by hand in it is nowhere else."""
    if not overwrite and str(out) != "-" and out.exists():
        raise UsageError(f"{str(out)!r} is there already", "name another file, or add --overwrite")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.add_typer(layout_commands, name="layout")
