"""The command that hands over the report of a job, or the card for its machine."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.arguments import AsJson, Job, Learned, Seconds
from matrixcheck.cli.as_json import json_text, print_json, print_written, refuse_two_outputs
from matrixcheck.cli.case import CaseFile, case_of, reported
from matrixcheck.cli.common import bench_of, configuration_of, limit_of, rates_of
from matrixcheck.cli.outputs import STANDARD_OUTPUT, Output, hand_over
from matrixcheck.cli.progress import progress
from matrixcheck.cli.saying import say
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.report.drawing.paper import Paper
    from matrixcheck.report.sheet import Sheet

FORMS = (".html", ".pdf", ".md", ".csv", ".json")
PAGES = FORMS[:2]


class PaperName(StrEnum):
    """The papers that a page is made for."""

    A4 = "a4"
    LETTER = "letter"


def report(
    context: typer.Context,
    job: Job,
    to: Annotated[
        list[Path] | None,
        typer.Option(
            "--to",
            metavar="FILE",
            help="Write a file, by its ending: .html, .pdf, .md, .csv (the cells) or .json. May be given several "
            "times; -.html and the like are standard output.",
            show_default=False,
        ),
    ] = None,
    card: Annotated[
        bool, typer.Option("--card", help="Write the card to pin inside the cabinet instead: .html or .pdf.")
    ] = False,
    photos: Annotated[
        bool | None,
        typer.Option(
            "--photos/--no-photos",
            help="Put the photos into pages: into the report unless told otherwise, behind the card only if told to.",
            show_default=False,
        ),
    ] = None,
    paper: Annotated[PaperName, typer.Option("--paper", help="Paper of the pages.")] = PaperName.A4,
    as_json: AsJson = False,
    seconds: Seconds = None,
    case: CaseFile = None,
    learned: Learned = False,
) -> None:
    """Print the report of a job. Or write it to files: a page for the owner, then pages for the technician."""
    from matrixcheck.report.drawing.paper import PAPERS
    from matrixcheck.report.photos import ON_PAPER
    from matrixcheck.report.sheet import sheet_of

    limit = limit_of(seconds)
    files = to or []
    _check(files, card)
    refuse_two_outputs(as_json, files)
    browser = _browser(context, files)
    bench = bench_of(context, rates_of(context, learned=learned))
    with reported(case, case_of(bench, job)), progress():
        sheet = sheet_of(bench, job, datetime.now().astimezone(), limit)
    if (not card if photos is None else photos) and any(file.suffix.lower() in PAGES for file in files):
        sheet = replace(sheet, photos=bench.photo_files(job, ON_PAPER))
    if files:
        with progress("writing the pages …"):
            hand_over([_output(file, sheet, PAPERS[paper], card, browser) for file in files])
        if as_json:
            print_written(files)
        return
    if as_json:
        from matrixcheck.report.data import sheet_data

        print_json(sheet_data(sheet))
        return
    from matrixcheck.report.plain import plain

    say(plain(sheet), end="")


def _check(files: Sequence[Path], card: bool) -> None:
    """Refuse what can't be written before anything is worked out. Raises UsageError."""
    forms = PAGES if card else FORMS
    if card and not files:
        raise UsageError("--card needs a file", "name it with --to FILE.html or FILE.pdf")
    for file in files:
        if file.suffix.lower() not in forms:
            what = "the card is a page" if card else "the report has no such form"
            raise UsageError(f"{str(file)!r}: {what}", f"end the name with {', '.join(forms)}")


def _browser(context: typer.Context, files: Sequence[Path]) -> Path | None:
    """Return what prints the PDFs among the files, None where there is none. Raises UsageError."""
    if all(file.suffix.lower() != ".pdf" for file in files):
        return None
    from matrixcheck.cli.printing import the_browser

    return the_browser(configuration_of(context).browser)


def _output(file: Path, sheet: "Sheet", paper: "Paper", card: bool, browser: Path | None) -> Output:
    form = file.suffix.lower()
    place = Path(STANDARD_OUTPUT) if file == Path(f"{STANDARD_OUTPUT}{file.suffix}") else file
    if form in PAGES:
        html = _page(sheet, paper, card)
        if browser is None or form == ".html":
            return Output(place, html)
        from matrixcheck.cli.printing import printed

        return Output(place, printed(html, browser))
    if form == ".md":
        from matrixcheck.report.drawing.paper import ENDLESS
        from matrixcheck.report.markdown import markdown
        from matrixcheck.report.reporting import report_of

        return Output(place, markdown(report_of(sheet, ENDLESS)))
    if form == ".csv":
        from matrixcheck.report.spreadsheet import spreadsheet

        return Output(place, spreadsheet(sheet))
    from matrixcheck.report.data import sheet_data

    return Output(place, json_text(sheet_data(sheet)))


def _page(sheet: "Sheet", paper: "Paper", card: bool) -> str:
    from matrixcheck.report.page import card_page, page
    from matrixcheck.report.reporting import card_of, report_of

    if not card:
        return page(report_of(sheet, paper), paper)
    try:
        return card_page(card_of(sheet), paper)
    except ValueError as error:
        raise UsageError(str(error), "print the report instead: it takes as many pages as it needs") from None


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.command("report")(report)
