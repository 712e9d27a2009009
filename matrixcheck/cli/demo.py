"""The command that plays an invented evening or visit, shows what comes of it and checks that it comes out right."""

from enum import StrEnum
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

from matrixcheck.cli.arguments import AsJson
from matrixcheck.cli.as_json import print_json
from matrixcheck.cli.progress import progress
from matrixcheck.cli.saying import say
from matrixcheck.cli.showing import console, show, show_lines
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matrixcheck.cli.evening import PlayedStep
    from matrixcheck.report.answer.model import Answer
    from matrixcheck.report.sheet import Sheet

INVENTED = "All of this is invented: the machine, its owner, its faults and this {scene}."
WIDEST = 1000
"""Columns in which no line of an answer is broken."""


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
    as_json: AsJson = False,
) -> None:
    """Play an evening on an invented machine, or one visit. Exit code 1 when something doesn't come out right."""
    if out is None:
        from tempfile import TemporaryDirectory

        with TemporaryDirectory(prefix="matrixcheck-") as folder:
            result = _play(scene, Path(folder), whole, as_json)
        kept: list[Path] = []
        said = "Nothing of this was kept: --out DIR keeps the bench book and the report."
    else:
        result = _play(scene, _folder(out), whole, as_json)
        kept = [out / f"{scene}.book", out / f"{scene}.html"]
        said = f"Kept in {out}: {scene}.book, the bench book, and {scene}.html, the report."
    if as_json:
        print_json({"format": 1, "invented": True, "scene": scene.value, **result, "written": list(map(str, kept))})
    elif out is None:
        _say(said)
    else:
        say(said)
    if result["found"] < result["planted"] or result["states_wrong"]:
        raise typer.Exit(1)


def _folder(path: Path) -> Path:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{str(path)!r}: {(error.strerror or str(error)).lower()}", "name a folder") from None
    return path


def _play(scene: Scene, folder: Path, whole: bool, as_json: bool) -> dict[str, Any]:
    """Play a scene with its book and report in a folder, and print it as it goes unless it is wanted as JSON.

    Returns what came of it: `planted` faults and how many were `found`, `states` looked for and how many were wrong,
    and the steps.
    """
    from matrixcheck.cli.evening import played, the_evening, the_visit
    from matrixcheck.cli.outputs import Output, hand_over
    from matrixcheck.report.drawing.paper import PAPERS
    from matrixcheck.report.page import page
    from matrixcheck.report.reporting import report_of
    from matrixcheck.whole_files import check_target

    book, report = folder / f"{scene}.book", folder / f"{scene}.html"
    for path in (book, report):
        check_target(path)
    if not as_json:
        _show_warning(scene)
    steps: list[dict[str, Any]] = []
    sheet: Sheet | None = None
    scenario = the_visit() if scene is Scene.VISIT else the_evening()
    for step in _waited_for(played(scenario, book)):
        looked = _looked(step) if step.sheet else None
        sheet = step.sheet or sheet
        steps.append(_step_data(step, looked))
        if not as_json:
            _say(f"{step.step.at:%H:%M}  {step.step.says}", 7)
            if looked:
                _show(step, looked, whole)
    if sheet:
        if whole and not as_json:
            _close(sheet)
        paper = PAPERS["a4"]
        hand_over([Output(report, page(report_of(sheet, paper), paper))])
    faults = [fault for step in steps for fault in step["faults"]]
    states = sum(len(step.expects) + len(step.never) for step in scenario.steps)
    result: dict[str, Any] = {
        "planted": len(faults),
        "found": sum(fault["card"] is not None for fault in faults),
        "states": states,
        "states_wrong": sum(len(step["wrong"]) for step in steps),
        "steps": steps,
    }
    if not as_json:
        print(f"{result['found']} of {len(faults)} planted {'fault' if len(faults) == 1 else 'faults'} found.")
        if states:
            print(f"{states - result['states_wrong']} of {states} states as they should be.")
    return result


def _waited_for(steps: "Iterator[PlayedStep]") -> "Iterator[PlayedStep]":
    """Yield the steps; a line stands while one of them takes its time."""
    while True:
        with progress("playing the next step …"):
            step = next(steps, None)
        if step is None:
            return
        yield step


class _Looked(NamedTuple):
    """What is said of the job in a step that looks at it; `wrong` is what does not read as the step expects."""

    answer: "Answer"
    failed: tuple[str, ...]
    wrong: tuple[str, ...]


def _looked(step: "PlayedStep") -> _Looked:
    from matrixcheck.report.answer.build import answer_of_job
    from matrixcheck.report.answer.text import title_lines
    from matrixcheck.report.safety import failed_lines

    sheet = step.sheet
    if sheet is None:
        raise ValueError("nothing was looked at")
    answer = answer_of_job(sheet.diagnosis, sheet.state)
    failed = tuple(failed_lines(sheet.state.safety))
    said = " ".join(" ".join((*failed, *(line.text for line in title_lines(answer, WIDEST)))).split())
    wrong = [f"NOT SAID  {words}" for words in step.step.expects if words not in said]
    wrong += [f"SAID STILL  {words}" for words in step.step.never if words in said]
    return _Looked(answer, failed, tuple(wrong))


def _step_data(step: "PlayedStep", looked: _Looked | None) -> dict[str, Any]:
    cards = {card.suspect: card.number for card in looked.answer.cards} if looked else {}
    return {
        "at": f"{step.step.at:%H:%M}",
        "says": step.step.says,
        "headline": list(looked.answer.headline) if looked else [],
        "faults": [
            {"planted": one.planted.says, "card": cards[one.suspect.id] if one.suspect else None} for one in step.checks
        ],
        "wrong": list(looked.wrong) if looked else [],
    }


def _show_warning(scene: Scene) -> None:
    from matrixcheck.report import cautions

    for line in (INVENTED.format(scene=scene), cautions.BEFORE_POWER, cautions.INSIDE, cautions.DEFER):
        _say(line)
    print()


def _show(step: "PlayedStep", looked: _Looked, whole: bool) -> None:
    """Print the headline of the answer and its titles, or grids and cards; then which card names what was planted."""
    from matrixcheck.report import tables
    from matrixcheck.report.answer.text import answer_lines, title_lines

    sheet = step.sheet
    width = console().width
    print()
    if whole and sheet:
        for name in step.step.show:
            show(tables.grid(sheet.state.layout.matrix(name), sheet.state.standings, sheet.coverage[name], width))
            print()
        show(tables.legend())
        print()
    show(*looked.failed)
    job = sheet.state.id if sheet else ""
    show_lines(answer_lines(looked.answer, width, job) if whole else title_lines(looked.answer, width))
    if step.checks:
        print("\nWhat was planted, and the card that names it")
    cards = {card.suspect: card.number for card in looked.answer.cards}
    for check in step.checks:
        found = f"{cards[check.suspect.id]:>2}" if check.suspect else "NOT FOUND"
        _say(f"{found}  {check.planted.says}", 4)
    for line in looked.wrong:
        _say(line)
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
