"""The command that shows the rates of faults in use, and what the book's closed repairs say of them."""

import typer

from matrixcheck.cli.arguments import AsJson, RatesFile
from matrixcheck.cli.as_json import print_json
from matrixcheck.cli.common import bench_of, configuration_of
from matrixcheck.cli.progress import progress
from matrixcheck.cli.showing import console, show


def rates(context: typer.Context, file: RatesFile = None, as_json: AsJson = False) -> None:
    """Show the failure rates in use and what closed jobs say of them.

    `config set learned on` uses the learned ones, `--learned` for one answer.
    """
    from rich.table import Table

    from matrixcheck.config.place import read_rates_at
    from matrixcheck.report.rates import HEADS, rate_rows, rates_data, rates_said
    from matrixcheck.report.words import lines_of

    holds = configuration_of(context)
    own = file or holds.rates
    with progress("reading closed jobs …"):
        visits, found = bench_of(context).learned(read_rates_at(own))
    source = f"the rates of {own}" if own else "the shipped rates"
    if holds.learned:
        source += ", moved to the learned ones"
    if as_json:
        print_json(rates_data(found, len(visits), source))
        return
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, header_style="bold")
    for place, head in enumerate(HEADS):
        table.add_column(head, justify="left" if place < 2 else "right")
    for row in rate_rows(found):
        table.add_row(*row)
    said = [line for text in rates_said(found, len(visits), source) for line in lines_of(text, console().width)]
    show(*said, "", table)


def add_to(app: typer.Typer) -> None:
    """Put this command into the program."""
    app.command("rates")(rates)
