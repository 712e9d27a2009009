"""Commands that record: marks and readings, deferrals, bench checks, notes."""

from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson, Job, MatrixName
from matrixcheck.cli.as_json import say_kept_or_json
from matrixcheck.cli.common import bench_of, cells_of, danger, places_text, text_of
from matrixcheck.cli.progress import progress
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matrixcheck.bench import Kept
    from matrixcheck.layout.reading import Verdict
    from matrixcheck.record.job_state import JobState

Cells = Annotated[
    list[str],
    typer.Argument(
        metavar="CELL",
        help="Numbers, or addresses like r2c3.",
        show_default=False,
        autocompletion=completing.cells,
    ),
]
Remark = Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)]


def mark(
    context: typer.Context,
    job: Job,
    matrix: Annotated[
        str | None,
        typer.Argument(
            metavar="MATRIX",
            help="The matrix's id, as the layout has it.",
            show_default=False,
            autocompletion=completing.matrices,
        ),
    ] = None,
    entries: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="ENTRY",
            help="24 works, 24- is dead, 24* is stuck, 24. later, 24+31 both answer, 24/31 31 answers instead, "
            "24=4.1 measures ohms, 24+- flickers, c3- the whole column is dead.",
            show_default=False,
            autocompletion=completing.cells,
        ),
    ] = None,
    readings: Annotated[
        str | None,
        typer.Option(
            "--readings", metavar="FILE", help="Keep all readings of a JSON Lines file; - reads standard input."
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Keep what was seen. Give entries for one matrix, or a file of readings."""
    bench = bench_of(context)
    if readings is not None:
        if matrix is not None:
            raise UsageError("mark takes entries or --readings, not both", "leave one of them out")
        from matrixcheck.record.readings import read_readings

        layout = bench.state(job).layout
        text, source = text_of(readings)
        with progress("keeping the readings …"):
            kept = bench.take_readings(job, read_readings(text, layout, source))
    elif matrix is None or not entries:
        raise UsageError("mark needs a matrix and entries, or --readings FILE", "for example: mark JOB switches 24 25-")
    else:
        kept = bench.mark(job, matrix, " ".join(entries))
    _show_kept(kept, bench.state(job), as_json)


def rest(
    context: typer.Context,
    job: Job,
    matrix: MatrixName,
    cells: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="CELL",
            help="What shows, as numbers or addresses like r2c3.",
            show_default=False,
            autocompletion=completing.cells,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Keep a rest scan. It tells what shows while nothing is exercised; no cell when all is quiet."""
    bench = bench_of(context)
    layout = bench.state(job).layout
    kept = bench.rest_scan(job, matrix, places_text(cells or (), layout.matrix(matrix), layout))
    _show_kept(kept, bench.state(job), as_json)


def defer(
    context: typer.Context,
    job: Job,
    matrix: MatrixName,
    cells: Cells,
    reason: Annotated[
        str, typer.Option("--reason", help="Why it must wait; by default how the cell is reached.", show_default=False)
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Put cells on the later list."""
    bench = bench_of(context)
    layout = bench.state(job).layout
    kept = bench.defer(job, cells_of(cells, layout.matrix(matrix), layout), reason)
    _show_kept(kept, bench.state(job), as_json)


def accept(
    context: typer.Context,
    job: Job,
    matrix: MatrixName,
    cells: Cells,
    note: Remark = "",
    back: Annotated[bool, typer.Option("--back", help="It is no longer normal: count it again.")] = False,
    as_json: AsJson = False,
) -> None:
    """Accept that the glow of a lamp at rest is normal here."""
    bench = bench_of(context)
    layout = bench.state(job).layout
    keys = cells_of(cells, layout.matrix(matrix), layout)
    kept = bench.accept(job, keys, note, back=back)
    from matrixcheck.layout.wording import cell_words
    from matrixcheck.report.act_data import kept_data

    said = "no longer taken as normal here" if back else "glows at rest: normal here"
    lines = [f"kept  {cell_words(layout, key)}  {said}" for key in keys]
    say_kept_or_json(lines, lambda: kept_data(kept, bench.state(job)), as_json)


def note(
    context: typer.Context,
    job: Job,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="The note.", show_default=False)],
    as_json: AsJson = False,
) -> None:
    """Keep a note with a job."""
    from matrixcheck.report.act_data import act_data

    bench = bench_of(context)
    bench.note(job, text)
    say_kept_or_json(["kept  note"], lambda: act_data(bench.state(job), note=bench.state(job).notes[-1].text), as_json)


def finding(
    context: typer.Context,
    job: Job,
    what: Annotated[
        str,
        typer.Argument(
            metavar="CODE",
            help="A check's code (wire.switches.c3), or a part, line or cell (Q3, 'switch column 3', 'lamp 21').",
            show_default=False,
            autocompletion=completing.places,
        ),
    ],
    verdict: Annotated[
        str,
        typer.Argument(
            metavar="VERDICT",
            help="good, faulty, or what the meter showed: 0.4, OL, 0.55/OL both ways. Of a place also replaced.",
            show_default=False,
            autocompletion=completing.one_of("good", "faulty", "replaced"),
        ),
    ],
    note: Remark = "",
    by: Annotated[
        str,
        typer.Option(
            "--by",
            metavar="CHECK",
            help="The kind of check, as in 'first wire' or 'transistor': it tells which part of the line was tested.",
            show_default=False,
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Keep what a bench check found."""
    from matrixcheck.layout.naming import place_named
    from matrixcheck.layout.reading import Finding
    from matrixcheck.record.summary import found_words

    bench = bench_of(context)
    layout = bench.state(job).layout
    if by or _is_place(what, layout.matrix_ids):
        found = Finding(place=place_named(what, layout), verdict=_verdict(verdict), check=by)
        follows = ""
        bench.finding(job, found, note)
    else:
        found, follows = bench.checked(job, what, verdict, note)
    from matrixcheck.report.act_data import found_data

    state = bench.state(job)
    made = state.repairs[-1] if found.verdict == "replaced" else state.findings[-1]
    lines = [f"kept  {found_words(found, layout)}", *filter(None, [follows])]
    say_kept_or_json(lines, lambda: found_data(made, follows, state), as_json)


def _is_place(what: str, matrices: "Sequence[str]") -> bool:
    """Return whether a finding names a place and not the code of a check, whose first word is its test."""
    first, dot, more = what.strip().partition(".")
    return not dot or " " in what.strip() or ("." not in more and first in matrices)


def _verdict(word: str) -> "Verdict":
    """Return the verdict on a place. Raises UsageError for another word."""
    known: dict[str, Verdict] = {"good": "good", "faulty": "faulty", "replaced": "replaced"}
    if word not in known:
        raise UsageError(f"'{word:.40}' is not a result", "type good, faulty or replaced")
    return known[word]


def _show_kept(kept: "Sequence[Kept]", state: "JobState", as_json: bool) -> None:
    from matrixcheck.report.act_data import kept_data
    from matrixcheck.report.tables import kept_lines

    stop = danger(state) if state.coils.stop else ()
    say_kept_or_json([*stop, *kept_lines(kept, state.layout)], lambda: kept_data(kept, state), as_json)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    for command in (mark, rest, defer, accept, note, finding):
        app.command(command.__name__)(command)
