"""Arguments and options that several commands have."""

from pathlib import Path
from typing import Annotated

import typer

from matrixcheck.cli.completing import jobs, layouts, matrices

Job = Annotated[
    str,
    typer.Argument(
        metavar="JOB", help="The job's short id, or a unique start of it.", show_default=False, autocompletion=jobs
    ),
]
JobToOpen = Annotated[
    str | None,
    typer.Argument(
        metavar="[JOB]", help="The job to open; without it, the bench.", show_default=False, autocompletion=jobs
    ),
]
LayoutName = Annotated[
    str,
    typer.Argument(
        metavar="LAYOUT",
        help="A layout file, or the name of a shipped one.",
        show_default=False,
        autocompletion=layouts,
    ),
]
MatrixName = Annotated[
    str,
    typer.Argument(
        metavar="MATRIX",
        help="The matrix's id, as the layout has it.",
        show_default=False,
        autocompletion=matrices,
    ),
]
Seconds = Annotated[
    float | None,
    typer.Option(
        "--seconds",
        metavar="N",
        help="Look no longer than this, 0.001 to 86,400 seconds; without it the search goes on until it is finished. "
        "The answer begins with what was left out.",
        show_default=False,
    ),
]
RatesFile = Annotated[
    Path | None,
    typer.Option(
        "--rates",
        metavar="FILE",
        help="A file with rates of faults and of wrong readings of your own, in place of the shipped ones.",
        show_default=False,
    ),
]
Learned = Annotated[
    bool, typer.Option("--learned", help="Let what the closed repairs of this book say move the rates.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON, for other programs; nothing is asked.")]
