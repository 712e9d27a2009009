"""Commands that hand something over: the report of a job, and the demonstration."""

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from matrixcheck.cli.case import CaseFile, case_of, reported
from matrixcheck.cli.common import Job, Seconds, bench_of, json_text, limit_of, rates_of
from matrixcheck.cli.outputs import Output, hand_over
from matrixcheck.cli.progress import progress
from matrixcheck.cli.saying import say


def report(
    context: typer.Context,
    job: Job,
    html: Annotated[
        Path | None, typer.Option("--html", metavar="FILE", help="Write a page that prints on A4.", show_default=False)
    ] = None,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FILE", help="Write the cells as a table.", show_default=False)
    ] = None,
    json: Annotated[
        Path | None, typer.Option("--json", metavar="FILE", help="Write everything as JSON.", show_default=False)
    ] = None,
    seconds: Seconds = None,
    case: CaseFile = None,
) -> None:
    """Print the sheet for a machine and its owner. Or write it to files; - is standard output."""
    from matrixcheck.report.sheet import sheet_of

    limit = limit_of(seconds)
    bench = bench_of(context, rates_of(context))
    with reported(case, case_of(bench, job)), progress():
        sheet = sheet_of(bench, job, datetime.now().astimezone(), limit)
    outputs = []
    if html:
        from matrixcheck.report.page import page

        outputs.append(Output(html, page(sheet)))
    if csv:
        from matrixcheck.report.spreadsheet import spreadsheet

        outputs.append(Output(csv, spreadsheet(sheet)))
    if json:
        from matrixcheck.report.data import sheet_data

        outputs.append(Output(json, json_text(sheet_data(sheet))))
    if outputs:
        hand_over(outputs)
        return
    from matrixcheck.report.plain import plain

    say(plain(sheet), end="")


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.command("report")(report)
