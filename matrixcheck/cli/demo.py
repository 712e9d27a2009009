"""The command that plays the invented evening, shows what comes of it and checks that what was planted is found."""

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.common import console, show
from matrixcheck.cli.saying import say
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.cli.evening import Check, PlayedStep
    from matrixcheck.report.sheet import Sheet

INVENTED = "Everything in this demonstration is invented: the machine, its owner, its faults and this evening."


def demo(
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Keep the bench book and the report here.", show_default=False),
    ] = None,
) -> None:
    """Play an evening on an invented machine. Exit code 1 when a planted fault is not found."""
    if out is None:
        from tempfile import TemporaryDirectory

        with TemporaryDirectory(prefix="matrixcheck-") as folder:
            missed = _play(Path(folder))
        print("Nothing of this was kept: --out DIR keeps the bench book and the report.")
    else:
        missed = _play(_folder(out))
        say(f"Kept in {out}: evening.book, the bench book, and evening.html, the report.")
    if missed:
        raise typer.Exit(1)


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{str(path)!r}: {(error.strerror or str(error)).lower()}", "name a folder") from None
    return path


def _play(folder: Path) -> int:
    """Play the evening with its book and report in a folder; the count of planted faults that were not found."""
    from matrixcheck.cli.evening import played, the_evening
    from matrixcheck.cli.outputs import Output, hand_over
    from matrixcheck.report import cautions
    from matrixcheck.report.page import page
    from matrixcheck.whole_files import check_target

    book, report = folder / "evening.book", folder / "evening.html"
    for path in (book, report):
        check_target(path)
    for line in (INVENTED, "", cautions.BEFORE_POWER, cautions.INSIDE, cautions.DEFER, ""):
        _say(line)
    checks: list[Check] = []
    sheet: Sheet | None = None
    for step in played(the_evening(), book):
        _say(f"{step.step.at:%H:%M}  {step.step.says}", 7)
        if step.sheet:
            sheet = step.sheet
            _look(step, sheet)
            checks.extend(step.checks)
    if sheet:
        _close(sheet)
        hand_over([Output(report, page(sheet))])
    missed = sum(check.suspect is None for check in checks)
    print(f"\nPlanted faults that were looked for: {len(checks)}. Not found: {missed}.")
    return missed


def _look(step: "PlayedStep", sheet: "Sheet") -> None:
    from matrixcheck.report import tables
    from matrixcheck.report.suspects import suspects

    layout = sheet.state.layout
    for name in step.step.show:
        print()
        show(tables.grid(layout.matrix(name), sheet.state.standings, sheet.coverage[name], console().width))
    show(tables.legend())
    print()
    show(suspects(sheet.diagnosis, layout))
    print("\nWhat was planted, and whether it stands in the likeliest explanation")
    for check in step.checks:
        found = f"found, {check.suspect.id}" if check.suspect else "NOT FOUND"
        _say(f"  {found:<11} {check.planted.says}", 14)
    print()


def _say(text: str, indent: int = 0) -> None:
    """Print a sentence in lines that fit, all but the first of them indented."""
    print(fill(text, console().width, subsequent_indent=" " * indent))


def _close(sheet: "Sheet") -> None:
    from matrixcheck.report import tables

    show(tables.coverage_table(sheet.coverage))
    print("\nFor later, by what must be done to get at it\n")
    show(tables.later(sheet.later))


def add_to(app: typer.Typer) -> None:
    """Put this command into the program."""
    app.command("demo")(demo)
