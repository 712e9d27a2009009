"""Commands on photos: keep one, list them, write their files."""

from pathlib import Path
from typing import Annotated

import typer

from matrixcheck.cli.arguments import AsJson, Job
from matrixcheck.cli.as_json import print_json, refuse_two_outputs, say_kept_or_json
from matrixcheck.cli.common import bench_of, bytes_of
from matrixcheck.cli.outputs import STANDARD_OUTPUT, Output, hand_over
from matrixcheck.cli.saying import say
from matrixcheck.errors import UsageError


def photo(
    context: typer.Context,
    job: Job,
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="A JPEG picture; - reads standard input.", show_default=False)
    ],
    place: Annotated[
        str,
        typer.Option(
            "--place",
            metavar="WHAT",
            help="It shows this part, line or cell: Q3, 'switch column 3', 'lamp 21'.",
            show_default=False,
        ),
    ] = "",
    check: Annotated[
        str,
        typer.Option(
            "--check",
            metavar="CHECK",
            help="It shows this check: one before power by its name, or the code of a bench check.",
            show_default=False,
        ),
    ] = "",
    note: Annotated[
        int,
        typer.Option(
            "--note",
            metavar="EVENT",
            help="It shows what this note says; the event's number, as `log` shows it.",
            show_default=False,
        ),
    ] = 0,
    caption: Annotated[
        str, typer.Option("--caption", metavar="TEXT", help="A few words to stand below it.", show_default=False)
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Keep a photo, made smaller where it is large. Without an option it shows the machine.

    Time, place and camera, which a picture may name, are left out.
    """
    from matrixcheck.layout.limits import LARGEST_PICTURE
    from matrixcheck.report.act_data import act_data
    from matrixcheck.report.photos import photo_data, said_of

    bench = bench_of(context)
    picture, source = bytes_of(file, "picture", LARGEST_PICTURE)
    made = bench.attach(job, picture, source, place=place, check=check, note=note, caption=caption)
    state = bench.state(job)
    line = f"kept  photo of {said_of(made, state)} ({made.width}x{made.height}, {made.size // 1000 or 1} KB)"
    say_kept_or_json([line], lambda: act_data(state, photo=photo_data(made, state)), as_json)


def photos(
    context: typer.Context,
    job: Job,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FOLDER", help="Write their files into this folder.", show_default=False),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the photos of a job, oldest first."""
    from matrixcheck.report.act_data import act_data
    from matrixcheck.report.photos import file_name, photo_data, photo_lines

    bench = bench_of(context)
    state = bench.state(job)
    written: list[Path] = []
    if to is not None:
        refuse_two_outputs(as_json, [to])
        if str(to) == STANDARD_OUTPUT or not to.is_dir():
            raise UsageError(f"{str(to)!r} is no folder", "name one that is there")
        files = bench.photo_files(job)
        there = [(number, one) for number, one in enumerate(state.photos, 1) if one.name in files]
        outputs = [Output(to / file_name(number, one), files[one.name]) for number, one in there]
        hand_over(outputs)
        written = [output.path for output in outputs]
    if as_json:
        print_json(
            act_data(
                state, photos=[photo_data(one, state) for one in state.photos], written=[str(path) for path in written]
            )
        )
        return
    for line in photo_lines(state) if to is None else [f"{path}" for path in written]:
        say(line)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    for command in (photo, photos):
        app.command(command.__name__)(command)
