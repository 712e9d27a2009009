"""The command that shows the screens in a browser."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from matrixcheck.cli.arguments import JobToOpen
from matrixcheck.cli.common import bench_of, book_path, rates_of
from matrixcheck.errors import UsageError


def serve(
    context: typer.Context,
    job: JobToOpen = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes any free one.")] = 8417,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let a phone in the local network in, by an address with a fresh token.")
    ] = False,
    address: Annotated[
        str | None,
        typer.Option(
            "--address",
            metavar="IPV4",
            help="With --lan: which of this computer's addresses, where it has several.",
            show_default=False,
        ),
    ] = None,
    layouts: Annotated[
        Path | None,
        typer.Option(
            "--layouts",
            metavar="DIR",
            help="A folder whose layout files a new job can choose as well, over the network too.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Show the screens in a browser. On this computer, or with --lan in the local network."""
    if address is not None and not lan:
        raise UsageError("--address goes with --lan", "add --lan, or leave it out")
    # Each page's process reads them for itself; what is wrong with them is said here and now.
    rates_of(context)
    found = bench_of(context).state(job).id if job else None
    from matrixcheck.layout.folder import checked_folder
    from matrixcheck.web.network import checked_address, lan_address
    from matrixcheck.web.start import Wanted
    from matrixcheck.web.start import serve as serve_screens

    reached_at = (checked_address(address) if address else lan_address()) if lan else None
    folder = checked_folder(layouts) if layouts else None
    serve_screens(Wanted(book_path(context), found, port, reached_at, folder), sys.stdout)


def add_to(app: typer.Typer) -> None:
    """Put this command into the program."""
    app.command("serve")(serve)
