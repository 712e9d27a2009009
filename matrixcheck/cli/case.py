"""Case files on the command line: `--case FILE` writes what the analyser is given, `diagnose FILE` reads it back."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli.as_json import json_text
from matrixcheck.cli.common import text_of
from matrixcheck.cli.outputs import STANDARD_OUTPUT, Output, hand_over
from matrixcheck.errors import AnalysisError, UsageError

if TYPE_CHECKING:
    from matrixcheck.bench import Bench
    from matrixcheck.record.case import Case

CaseFile = Annotated[
    Path | None,
    typer.Option(
        "--case",
        metavar="FILE",
        help="Write what the analyser is given to a file, for a report: layout, readings and versions; no owner, no "
        "serial, no notes. `diagnose FILE` reads it.",
        show_default=False,
    ),
]

LIBRARIES = ("numpy", "msgspec", "pydantic")


@contextmanager
def reported(path: Path | None, case: "Case") -> Iterator[None]:
    """Run a block that analyses a case.

    Its file, where one is wanted, is written before, so that it is there whatever comes; when the analysis fails, the
    error says how to report it.
    """
    if path is not None:
        _write(path, case)
    try:
        yield
    except AnalysisError as error:
        advice = f"send {path} with a report" if path else "for a report, try again with --case FILE"
        raise AnalysisError(error.message, f"{error.hint}; {advice}") from error


def _write(path: Path, case: "Case") -> None:
    if str(path) == STANDARD_OUTPUT:
        raise UsageError("--case needs a file", "standard output is for results")
    from matrixcheck.record.case import case_data

    hand_over([Output(path, json_text(case_data(case, versions())))])


def case_of(bench: "Bench", job: str) -> "Case":
    """Return what the analyser is given of a job as it stands."""
    from matrixcheck.record.case import Case

    state = bench.state(job)
    return Case(state.layout, state.judged, state.known)


def case_in(file: str) -> "Case":
    """Return the case in a file. Raises UsageError for a layout that stands there without its readings."""
    from matrixcheck.layout.shipped import shipped
    from matrixcheck.record.case import read_case

    if file in shipped():
        raise UsageError(f"no readings for {file}", "name a readings file after the layout, or - for standard input")
    text, source = text_of(file)
    if not text.lstrip().startswith("{"):
        raise UsageError(f"no readings for {source}", "name a readings file after the layout, or a case file alone")
    return read_case(text, source)


def versions() -> dict[str, str]:
    """Return what this program runs on."""
    import platform
    from importlib.metadata import version

    return {
        "matrixcheck": version("matrixcheck"),
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        **{name: version(name) for name in LIBRARIES},
    }
