"""Commands that hand something over: the report of a job, and the demonstration."""

import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from matrixcheck.cli.common import Job, bench_of, write_file


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
) -> None:
    """Print the sheet for a machine and its owner. Or write it to files; - is standard output."""
    from matrixcheck.report.sheet import sheet_of

    sheet = sheet_of(bench_of(context), job, datetime.now().astimezone())
    if not (html or csv or json):
        from matrixcheck.report.plain import plain

        print(plain(sheet), end="")
    if html:
        from matrixcheck.report.page import page

        _hand_over(html, page(sheet))
    if csv:
        from matrixcheck.report.spreadsheet import spreadsheet

        _hand_over(csv, spreadsheet(sheet))
    if json:
        import json as values

        from matrixcheck.report.data import sheet_data

        _hand_over(json, values.dumps(sheet_data(sheet), ensure_ascii=False, indent=1) + "\n")


def _hand_over(path: Path, text: str) -> None:
    if str(path) == "-":
        sys.stdout.write(text)
    else:
        write_file(path, text)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.command("report")(report)
