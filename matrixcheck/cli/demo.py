"""The command that plays the invented evening, shows what comes of it and checks that what was planted is found."""

from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.common import console, show, show_lines
from matrixcheck.cli.saying import say
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.cli.evening import Check, PlayedStep
    from matrixcheck.report.sheet import Sheet

INVENTED = "All of this is invented: the machine, its owner, its faults and this evening."


def demo(
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Keep the bench book and the report here.", show_default=False),
    ] = None,
    whole: Annotated[
        bool, typer.Option("--all", help="Show grids, the cards of each answer and the later list as well.")
    ] = False,
) -> None:
    """Play an evening on an invented machine. Exit code 1 when a planted fault is not found."""
    if out is None:
        from tempfile import TemporaryDirectory

        with TemporaryDirectory(prefix="matrixcheck-") as folder:
            missed = _play(Path(folder), whole)
        print("Nothing of this was kept: --out DIR keeps the bench book and the report.")
    else:
        missed = _play(_folder(out), whole)
        say(f"Kept in {out}: evening.book, the bench book, and evening.html, the report.")
    if missed:
        raise typer.Exit(1)


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{str(path)!r}: {(error.strerror or str(error)).lower()}", "name a folder") from None
    return path


def _play(folder: Path, whole: bool) -> int:
    """Play the evening with its book and report in a folder; the count of planted faults that were not found."""
    from matrixcheck.cli.evening import played, the_evening
    from matrixcheck.cli.outputs import Output, hand_over
    from matrixcheck.report import cautions
    from matrixcheck.report.drawing.paper import PAPERS
    from matrixcheck.report.page import page
    from matrixcheck.report.reporting import report_of
    from matrixcheck.whole_files import check_target

    book, report = folder / "evening.book", folder / "evening.html"
    for path in (book, report):
        check_target(path)
    for line in (INVENTED, cautions.BEFORE_POWER, cautions.INSIDE, cautions.DEFER):
        _say(line)
    print()
    checks: list[Check] = []
    sheet: Sheet | None = None
    for step in played(the_evening(), book):
        _say(f"{step.step.at:%H:%M}  {step.step.says}", 7)
        if step.sheet:
            sheet = step.sheet
            _look(step, sheet, whole)
            checks.extend(step.checks)
    if sheet:
        if whole:
            _close(sheet)
        paper = PAPERS["a4"]
        hand_over([Output(report, page(report_of(sheet, paper), paper))])
    missed = sum(check.suspect is None for check in checks)
    print(f"{len(checks) - missed} of {len(checks)} planted faults found.")
    return missed


def _look(step: "PlayedStep", sheet: "Sheet", whole: bool) -> None:
    """Print the headline of the answer and its titles, or grids and cards; then which card names what was planted."""
    from matrixcheck.report import tables
    from matrixcheck.report.answer.build import answer_of_job
    from matrixcheck.report.answer.text import answer_lines, title_lines

    layout, width = sheet.state.layout, console().width
    answer = answer_of_job(sheet.diagnosis, sheet.state)
    print()
    if whole:
        for name in step.step.show:
            show(tables.grid(layout.matrix(name), sheet.state.standings, sheet.coverage[name], width))
            print()
        show(tables.legend())
        print()
    show_lines(answer_lines(answer, width, sheet.state.id) if whole else title_lines(answer, width))
    print("\nWhat was planted, and the card that names it")
    cards = {card.suspect: card.number for card in answer.cards}
    for check in step.checks:
        found = f"{cards[check.suspect.id]:>2}" if check.suspect else "NOT FOUND"
        _say(f"{found}  {check.planted.says}", 4)
    print()


def _say(text: str, indent: int = 0) -> None:
    """Print a sentence in lines that fit, all but the first of them indented."""
    print(fill(text, console().width, subsequent_indent=" " * indent))


def _close(sheet: "Sheet") -> None:
    from matrixcheck.report import tables

    show(tables.coverage_table(sheet.coverage))
    print("\nFor later, by what must be done to get at it\n")
    show(tables.later(sheet.later))
    print()


def add_to(app: typer.Typer) -> None:
    """Put this command into the program."""
    app.command("demo")(demo)
