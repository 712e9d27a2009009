"""Commands on jobs: open one, list, show, what is left, what happened."""

from typing import Annotated

import typer

from matrixcheck.cli.common import (
    AsJson,
    Job,
    LayoutName,
    bench_of,
    console,
    layout_of,
    open_screens,
    print_json,
    show,
    show_stop,
)
from matrixcheck.cli.saying import saying_kept

job = typer.Typer(help="Open a job, list all jobs, show one.")


@job.command("new")
def new(
    context: typer.Context,
    layout: LayoutName,
    name: Annotated[str, typer.Option("--name", help="What you call the job.", show_default=False)],
    serial: Annotated[str, typer.Option("--serial", help="The machine's serial number.", show_default=False)] = "",
    owner: Annotated[str, typer.Option("--owner", help="The owner's name or reference.", show_default=False)] = "",
) -> None:
    """Open a job for one machine and print its short id."""
    opened = bench_of(context).new_job(layout_of(layout), name, serial, owner)
    with saying_kept([f"opened job {opened}"]):
        print(opened)


@job.command("list")
def list_jobs(context: typer.Context, as_json: AsJson = False) -> None:
    """List the jobs of the book, with what is tested."""
    jobs = bench_of(context).jobs()
    if as_json:
        from matrixcheck.report.data import jobs_data

        print_json(jobs_data(jobs))
        return
    from matrixcheck.report.tables import jobs_table

    show(jobs_table(jobs) if jobs else "No job in this book. Open one: matrixcheck job new LAYOUT --name TEXT")


@job.command("show")
def show_job(
    context: typer.Context,
    job: Job,
    matrix: Annotated[
        str | None, typer.Option("--matrix", metavar="ID", help="Show this matrix only.", show_default=False)
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show a job with the grids of its matrices."""
    bench = bench_of(context)
    state, coverage = bench.state(job), bench.status(job)
    if as_json:
        from matrixcheck.report.data import job_data

        print_json(job_data(state, coverage))
        return
    if state.coils.stop:
        show_stop(state)
    from matrixcheck.report.tables import grid, job_head, legend

    chosen = state.layout.matrices if matrix is None else (state.layout.matrix(matrix),)
    width = console().width
    grids = [grid(one, state.standings, coverage[one.id], width) for one in chosen]
    show(job_head(state), "", *grids, legend())


def status(context: typer.Context, job: Job, as_json: AsJson = False) -> None:
    """Count working, dead, stuck and untested, matrix by matrix."""
    bench = bench_of(context)
    state, coverage = bench.state(job), bench.status(job)
    if as_json:
        from matrixcheck.report.data import status_data

        print_json(status_data(state, coverage))
        return
    if state.coils.stop:
        show_stop(state)
        return
    from matrixcheck.report.stop import notice
    from matrixcheck.report.tables import coverage_table, job_head

    show(job_head(state), "", *filter(None, [notice(state.coils)]), coverage_table(coverage))


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
    job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="The job to open; without it, the bench.", show_default=False)
    ] = None,
) -> None:
    """Open the terminal screens."""
    open_screens(context, job)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.add_typer(job, name="job")
    app.command("status")(status)
    app.command("later")(later)
    app.command("log")(log)
    app.command("open")(open_job)
