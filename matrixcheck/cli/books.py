"""Commands that carry a job elsewhere, and those that look after the bench book."""

from pathlib import Path
from typing import Annotated

import typer

from matrixcheck.cli.arguments import AsJson, Job
from matrixcheck.cli.as_json import print_written, refuse_two_outputs, say_kept_or_json, say_or_json
from matrixcheck.cli.common import bench_of, book_path, text_of
from matrixcheck.cli.jobs import job as jobs
from matrixcheck.cli.outputs import Output, hand_over
from matrixcheck.cli.progress import progress
from matrixcheck.layout.limits import LARGEST_JOB_FILE

book = typer.Typer(help="Look after the bench book.")


@jobs.command("export")
def export(
    context: typer.Context,
    job: Job,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The file to write; - is standard output.", show_default=False)
    ],
    readings: Annotated[
        bool, typer.Option("--readings", help="Only the readings that still count, as a readings file.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Write a job to a file, to go on elsewhere. Undone events are in it too."""
    refuse_two_outputs(as_json, [file])
    bench = bench_of(context)
    if readings:
        from matrixcheck.record.readings import write_readings

        state = bench.state(job)
        hand_over([Output(file, write_readings(state.current, state.layout))])
    else:
        with progress("writing the job …"):
            hand_over([Output(file, bench.exported(job))])
    if as_json:
        print_written([file])


@jobs.command("import")
def import_job(
    context: typer.Context,
    file: Annotated[
        str,
        typer.Argument(
            metavar="FILE", help="A file that `job export` wrote; - reads standard input.", show_default=False
        ),
    ],
    as_json: AsJson = False,
) -> None:
    """Take in a job from a file. What is here already is left as it is."""
    text, source = text_of(file, "job's file", LARGEST_JOB_FILE)
    with progress("checking the job …"):
        came = bench_of(context).import_job(text, source)
    more = f"; this book has {came.ahead} more" if came.ahead else ""
    new = f"{came.added} of its {came.events} events are new" if came.added else "nothing in it is new"
    say_kept_or_json([f"job {came.job}: {new}{more}"], lambda: {"format": 1, **came._asdict()}, as_json)


@book.command("path")
def path(context: typer.Context, as_json: AsJson = False) -> None:
    """Print where the bench book lies."""
    found = str(book_path(context))
    say_or_json(found, {"path": found}, as_json)


@book.command("backup")
def backup(
    context: typer.Context,
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The copy to make; the file must not exist yet.", show_default=False)
    ],
    as_json: AsJson = False,
) -> None:
    """Copy the bench book, also while it is in use. The copy is proven whole."""
    with progress("copying the book …"):
        count = bench_of(context).back_up(file)
    said = f"{file}: a copy of the book, {count} events, no problems found"
    say_or_json(said, {"written": [str(file)], "events": count}, as_json)


@book.command("verify")
def verify(context: typer.Context, as_json: AsJson = False) -> None:
    """Prove that the book is whole. Nothing was changed or taken out since it was written, or this says where.

    Only a note of the count of events can tell whether the newest were cut off.
    """
    bench = bench_of(context)
    with progress("proving the book …"):
        count, photos = bench.verify(), bench.count_photos()
    said = f"{bench.path}: no problems found, {count} events{_and(photos)}"
    say_or_json(said, {"path": str(bench.path), "events": count, "photos": photos}, as_json)


def _and(photos: int) -> str:
    return f", {photos} {'photo' if photos == 1 else 'photos'}" if photos else ""


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.add_typer(book, name="book")
