"""Commands on jobs: open one, list, show, what is left, what happened."""

from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing, layout_changes
from matrixcheck.cli.arguments import AsJson, Job, JobToOpen, LayoutName
from matrixcheck.cli.as_json import print_json, say_kept_or_json
from matrixcheck.cli.common import bench_of, open_screens, show_stop
from matrixcheck.cli.saying import saying_kept
from matrixcheck.cli.showing import console, show

if TYPE_CHECKING:
    from matrixcheck.bench import Bench

job = typer.Typer(help="Open a job, list all jobs, show one.")


@job.command("new")
def new(
    context: typer.Context,
    layout: LayoutName,
    name: Annotated[str, typer.Option("--name", help="The job's name.", show_default=False)],
    serial: Annotated[str, typer.Option("--serial", help="The machine's serial number.", show_default=False)] = "",
    owner: Annotated[str, typer.Option("--owner", help="The owner's name or reference.", show_default=False)] = "",
    as_json: AsJson = False,
) -> None:
    """Open a job for one machine and print its short id."""
    from matrixcheck.layout.files import read_found

    found, source = read_found(layout)
    bench = bench_of(context)
    _say_opened(bench.new_job(found, name, serial, owner, source=source), bench, as_json)


@job.command("again")
def again(
    context: typer.Context,
    last: Annotated[
        str,
        typer.Argument(
            metavar="JOB|SERIAL",
            help="Its last visit, or its serial number.",
            show_default=False,
            autocompletion=completing.jobs,
        ),
    ],
    name: Annotated[str, typer.Option("--name", help="The job's name; by default as before.", show_default=False)] = "",
    as_json: AsJson = False,
) -> None:
    """Open a job for a machine that is back.

    Its layout, serial number and owner are as at its last visit.
    """
    bench = bench_of(context)
    _say_opened(bench.visit_again(last, name), bench, as_json)


def _say_opened(opened: str, bench: "Bench", as_json: bool) -> None:
    with saying_kept([f"opened job {opened}"]):
        if as_json:
            from matrixcheck.report.act_data import act_data

            print_json(act_data(bench.state(opened)))
        else:
            print(opened)


@job.command("list")
def list_jobs(
    context: typer.Context,
    find: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="WORD", help="Only jobs with these in name, serial, owner or machine.", show_default=False
        ),
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Archived ones too.")] = False,
    as_json: AsJson = False,
) -> None:
    """List the jobs of the book, the one worked on last first."""
    jobs = bench_of(context).jobs(" ".join(find or ()), archived=every)
    if as_json:
        from matrixcheck.report.data import jobs_data

        print_json(jobs_data(jobs))
        return
    from matrixcheck.report.tables import jobs_table

    none = "No such job." if find else "No job in this book. Open one: matrixcheck job new LAYOUT --name TEXT"
    show(jobs_table(jobs, console().width) if jobs else none if every else f"{none} Archived ones: job list --all")


@job.command("edit")
def edit(
    context: typer.Context,
    job: Job,
    name: Annotated[str | None, typer.Option("--name", help="The new name.", show_default=False)] = None,
    serial: Annotated[str | None, typer.Option("--serial", help="The serial number.", show_default=False)] = None,
    owner: Annotated[str | None, typer.Option("--owner", help="The owner.", show_default=False)] = None,
    as_json: AsJson = False,
) -> None:
    """Rename a job, or put its serial number or owner right."""
    bench = bench_of(context)
    bench.edit_job(job, name=name, serial=serial, owner=owner)
    _say_done("job edited", job, bench, as_json)


@job.command("close")
def close(
    context: typer.Context,
    job: Job,
    verdict: Annotated[
        str, typer.Argument(metavar="VERDICT", help="The state in which the machine leaves.", show_default=False)
    ],
    as_json: AsJson = False,
) -> None:
    """Close a job with a verdict."""
    bench = bench_of(context)
    bench.close_job(job, verdict)
    _say_done(f"job closed: {verdict}", job, bench, as_json)


@job.command("reopen")
def reopen(context: typer.Context, job: Job, as_json: AsJson = False) -> None:
    """Go on with a closed job."""
    bench = bench_of(context)
    bench.reopen_job(job)
    _say_done("job reopened", job, bench, as_json)


@job.command("archive")
def archive(
    context: typer.Context,
    job: Job,
    back: Annotated[bool, typer.Option("--back", help="Put it back on the list.")] = False,
    as_json: AsJson = False,
) -> None:
    """Take a job off the list. Nothing of it is deleted."""
    bench = bench_of(context)
    bench.archive_job(job, hidden=not back)
    _say_done("job back on the list" if back else "job archived", job, bench, as_json)


def _say_done(words: str, job: str, bench: "Bench", as_json: bool) -> None:
    from matrixcheck.report.act_data import act_data

    say_kept_or_json([f"kept  {words}"], lambda: act_data(bench.state(job)), as_json)


@job.command("compare")
def compare(
    context: typer.Context,
    job: Job,
    other: Annotated[
        str,
        typer.Argument(
            metavar="[OTHER]",
            help="Another visit; by default the one before.",
            show_default=False,
            autocompletion=completing.jobs,
        ),
    ] = "",
    as_json: AsJson = False,
) -> None:
    """Show what changed since another visit."""
    from matrixcheck.record.function_lists import changed_functions, function_lists
    from matrixcheck.report.tables import changes_table

    bench = bench_of(context)
    then, changes = bench.changed_since(job, other)
    now = bench.state(job)
    more = changed_functions(function_lists(now), function_lists(then))
    if as_json:
        from matrixcheck.report.act_data import changes_data

        print_json(changes_data(now, then, changes, more))
        return
    if not (changes or more):
        show(f"Nothing changed since job {then.id}.")
        return
    show(changes_table(now, then, changes, more))


@job.command("show")
def show_job(
    context: typer.Context,
    job: Job,
    matrix: Annotated[
        str | None,
        typer.Option(
            "--matrix",
            metavar="ID",
            help="Show this matrix only.",
            show_default=False,
            autocompletion=completing.matrices,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show a job with the grids of its matrices."""
    bench = bench_of(context)
    state, coverage = bench.state(job), bench.status(job)
    if as_json:
        from matrixcheck.report.data import job_data

        print_json(job_data(state, coverage, bench.layout_news(job)))
        return
    if state.coils.stop:
        show_stop(state)
    from matrixcheck.report.tables import grid, job_head, legend

    chosen = state.layout.matrices if matrix is None else (state.layout.matrix(matrix),)
    width = console().width
    grids = [grid(one, state.standings, coverage[one.id], width) for one in chosen]
    show(job_head(state, bench.layout_news(job)), "", *grids, legend())


def status(context: typer.Context, job: Job, as_json: AsJson = False) -> None:
    """Count how cells and the rest of the test mode stand."""
    bench = bench_of(context)
    state, coverage = bench.state(job), bench.status(job)
    if as_json:
        from matrixcheck.report.data import status_data

        print_json(status_data(state, coverage, bench.layout_news(job)))
        return
    if state.coils.stop:
        show_stop(state)
        return
    from matrixcheck.record.function_lists import function_lists
    from matrixcheck.report.functions import list_lines
    from matrixcheck.report.stop import notice
    from matrixcheck.report.tables import coverage_table, job_head

    lists = list_lines(function_lists(state))
    show(
        job_head(state, bench.layout_news(job)),
        "",
        *filter(None, [notice(state.coils)]),
        coverage_table(coverage),
        "",
        *lists,
    )


def later(context: typer.Context, job: Job, as_json: AsJson = False) -> None:
    """List what is left to test, by how it is reached."""
    bench = bench_of(context)
    state = bench.state(job)
    if as_json:
        from matrixcheck.report.data import later_data

        print_json(later_data(bench.later(job), state))
        return
    if state.coils.stop:
        show_stop(state)
        return
    from matrixcheck.report.tables import later as later_list

    show(later_list(bench.later(job)))


def log(context: typer.Context, job: Job, as_json: AsJson = False) -> None:
    """List what was recorded, oldest first. Undone things stay in it."""
    lines = bench_of(context).log(job)
    if as_json:
        from matrixcheck.report.data import log_data

        print_json(log_data(lines))
        return
    from matrixcheck.report.tables import log_table

    show(log_table(lines))


def open_job(
    context: typer.Context,
    job: JobToOpen = None,
) -> None:
    """Open the terminal screens."""
    open_screens(context, job)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    job.command("relayout")(layout_changes.relayout)
    app.add_typer(job, name="job")
    app.command("status")(status)
    app.command("later")(later)
    app.command("log")(log)
    app.command("open")(open_job)
