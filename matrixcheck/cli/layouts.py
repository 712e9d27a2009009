"""Commands on layout files: check, list, show and print them; to make one see `layout_making`."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing, layout_changes, layout_making
from matrixcheck.cli.arguments import AsJson, LayoutName
from matrixcheck.cli.as_json import print_json, refuse_two_outputs, say_or_json
from matrixcheck.cli.common import layout_of
from matrixcheck.cli.layout_making import Overwrite, refuse_lost
from matrixcheck.cli.outputs import Output, hand_over, print_whole
from matrixcheck.cli.saying import say
from matrixcheck.cli.showing import console
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.layout.model import Layout

layout_commands = typer.Typer(help="Look after layout files.")


@layout_commands.command("check")
def check(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The layout file.", readable=False, show_default=False)],
    strict: Annotated[bool, typer.Option("--strict", help="Treat warnings as errors.")] = False,
    as_json: AsJson = False,
) -> None:
    """Report every problem of a layout file. One a line; exit code 1 when there are errors, warnings alone are 0."""
    from matrixcheck.layout.files import look_over

    problems = look_over(file)
    errors = [problem for problem in problems if strict or problem.severity == "error"]
    if as_json:
        from matrixcheck.report.layout_data import problems_data

        print_json(problems_data(problems))
    elif problems:
        say("\n".join(problem.in_full() for problem in problems))
    else:
        say(f"{file}: no problems found")
    if errors:
        raise typer.Exit(1)


@layout_commands.command("list")
def list_(as_json: AsJson = False) -> None:
    """List the layouts that come with the program."""
    from matrixcheck.layout.files import read_layout
    from matrixcheck.layout.shipped import shipped

    found = {name: (path, read_layout(path)) for name, path in shipped().items()}
    if as_json:
        from matrixcheck.report.layout_data import layouts_data

        print_json(layouts_data(found))
        return
    for name, (_, layout) in found.items():
        sizes = ", ".join(f"{one.id} {one.size[1]}x{one.size[0]}" for one in layout.matrices)
        say(f"{name}: {layout.name} ({sizes})")


@layout_commands.command("show")
def show_(
    layout: LayoutName,
    as_toml: Annotated[bool, typer.Option("--toml", help="Print the file itself, to start one of your own.")] = False,
    as_json: AsJson = False,
) -> None:
    """Show a layout: its file, and the charts of its matrices."""
    from matrixcheck.layout.charts.pages import text_of
    from matrixcheck.layout.files import find_layout, read_layout

    path = find_layout(layout)
    if as_json:
        if as_toml:
            raise UsageError("--toml and --json are two forms of one layout", "leave one of them out")
        from matrixcheck.report.layout_data import layout_data

        print_json(layout_data(path, read_layout(path)))
        return
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
        list[str] | None,
        typer.Option(
            "--matrix",
            metavar="ID",
            help="This matrix only.",
            show_default=False,
            autocompletion=completing.matrices,
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: AsJson = False,
) -> None:
    """Print the charts of a layout as a manual has them. Says what a chart has no place for."""
    from matrixcheck.layout.charts.pages import of_matrices
    from matrixcheck.layout.charts.printed import not_held

    refuse_two_outputs(as_json, [to])
    refuse_lost(to, overwrite)
    shown = of_matrices(layout_of(layout), matrix or [])
    hand_over([Output(to, _chart_text(shown, to, ticks))])
    if str(to) == "-":
        return
    lost = [] if ticks else list(not_held(shown))
    say_or_json(f"Written: {to}", {"written": [str(to)], "not_held": lost}, as_json)
    if lost and not as_json:
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


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    layout_making.add_to(layout_commands)
    layout_commands.command("set")(layout_changes.set_)
    app.add_typer(layout_commands, name="layout")
