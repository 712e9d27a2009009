"""The command that plays an invented evening or visit, shows what comes of it and checks that it comes out right."""

from enum import StrEnum
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.saying import say
from matrixcheck.cli.showing import console, show, show_lines
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.cli.evening import Check, PlayedStep
    from matrixcheck.report.sheet import Sheet

INVENTED = "All of this is invented: the machine, its owner, its faults and this {scene}."


class Scene(StrEnum):
    """What is played: one evening with many faults, or one visit from before power to the report."""

    EVENING = "evening"
    VISIT = "visit"


def demo(
    scene: Annotated[
        Scene,
        typer.Argument(
            metavar="[SCENE]",
            help="evening: many faults, and which are found. visit: one fault, from before power to the report.",
            show_default=False,
        ),
    ] = Scene.EVENING,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Keep the bench book and the report here.", show_default=False),
    ] = None,
    whole: Annotated[
        bool, typer.Option("--all", help="Show grids, the cards of each answer and the later list as well.")
    ] = False,
) -> None:
    """Play an evening on an invented machine, or one visit. Exit code 1 when something doesn't come out right."""
    if out is None:
        from tempfile import TemporaryDirectory

        with TemporaryDirectory(prefix="matrixcheck-") as folder:
            missed = _play(scene, Path(folder), whole)
        _say("Nothing of this was kept: --out DIR keeps the bench book and the report.")
    else:
        missed = _play(scene, _folder(out), whole)
        say(f"Kept in {out}: {scene}.book, the bench book, and {scene}.html, the report.")
    if missed:
        raise typer.Exit(1)


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{str(path)!r}: {(error.strerror or str(error)).lower()}", "name a folder") from None
    return path


def _play(scene: Scene, folder: Path, whole: bool) -> int:
    """Play a scene with its book and report in a folder; return the count of what did not come out right."""
    from matrixcheck.cli.evening import played, the_evening, the_visit
    from matrixcheck.cli.outputs import Output, hand_over
    from matrixcheck.report import cautions
    from matrixcheck.report.drawing.paper import PAPERS
    from matrixcheck.report.page import page
    from matrixcheck.report.reporting import report_of
    from matrixcheck.whole_files import check_target

    book, report = folder / f"{scene}.book", folder / f"{scene}.html"
    for path in (book, report):
        check_target(path)
    for line in (INVENTED.format(scene=scene), cautions.BEFORE_POWER, cautions.INSIDE, cautions.DEFER):
        _say(line)
    print()
    checks: list[Check] = []
    sheet: Sheet | None = None
    wrong = 0
    scenario = the_visit() if scene is Scene.VISIT else the_evening()
    for step in played(scenario, book):
        _say(f"{step.step.at:%H:%M}  {step.step.says}", 7)
        if step.sheet:
            sheet = step.sheet
            wrong += _look(step, sheet, whole)
            checks.extend(step.checks)
    if sheet:
        if whole:
            _close(sheet)
        paper = PAPERS["a4"]
        hand_over([Output(report, page(report_of(sheet, paper), paper))])
    missed = sum(check.suspect is None for check in checks)
    faults = "planted fault" if len(checks) == 1 else "planted faults"
    print(f"{len(checks) - missed} of {len(checks)} {faults} found.")
    states = sum(len(step.expects) + len(step.never) for step in scenario.steps)
    if states:
        print(f"{states - wrong} of {states} states as they should be.")
    return missed + wrong


def _look(step: "PlayedStep", sheet: "Sheet", whole: bool) -> int:
    """Print the headline of the answer and its titles, or grids and cards; then which card names what was planted.

    Returns how much does not read as the step expects.
    """
    from matrixcheck.report import tables
    from matrixcheck.report.answer.build import answer_of_job
    from matrixcheck.report.answer.text import answer_lines, title_lines
    from matrixcheck.report.safety import failed_lines

    state, width = sheet.state, console().width
    answer = answer_of_job(sheet.diagnosis, state)
    print()
    if whole:
        for name in step.step.show:
            show(tables.grid(state.layout.matrix(name), state.standings, sheet.coverage[name], width))
            print()
        show(tables.legend())
        print()
    show(*failed_lines(state.safety))
    lines = answer_lines(answer, width, state.id) if whole else title_lines(answer, width)
    show_lines(lines)
    if step.checks:
        print("\nWhat was planted, and the card that names it")
    cards = {card.suspect: card.number for card in answer.cards}
    for check in step.checks:
        found = f"{cards[check.suspect.id]:>2}" if check.suspect else "NOT FOUND"
        _say(f"{found}  {check.planted.says}", 4)
    said = " ".join(" ".join((*failed_lines(state.safety), *(line.text for line in lines))).split())
    wrong = [f"NOT SAID  {words}" for words in step.step.expects if words not in said]
    wrong += [f"SAID STILL  {words}" for words in step.step.never if words in said]
    for line in wrong:
        _say(line)
    print()
    return len(wrong)


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
