"""Commands that put a layout right: a value in its file, and the layout of a job that is under way."""

import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson, Job, LayoutName
from matrixcheck.cli.as_json import print_json, say_kept_or_json, say_or_json
from matrixcheck.cli.common import bench_of
from matrixcheck.cli.saying import say, say_kept
from matrixcheck.cli.showing import show
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.bench import Relayout
    from matrixcheck.layout.edit.keys import Change
    from matrixcheck.layout.model import Layout
    from matrixcheck.record.differences import Difference


def set_(
    context: typer.Context,
    layout: LayoutName,
    pairs: Annotated[
        list[str],
        typer.Argument(
            metavar="KEY VALUE",
            help="What to set, and to what: switches.33.name 'tram stop 3'. Several are set together; '' takes a value "
            "away.",
            show_default=False,
        ),
    ],
    job: Annotated[
        str | None,
        typer.Option(
            "--job",
            metavar="JOB",
            help="Put the layout of this job right as well.",
            show_default=False,
            autocompletion=completing.jobs,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Set values in a layout's file; comments and order stay.

    KEY is a place and a field: switches.33.name, 'switch 33 reach', switches.column.3.wire, c3.chain, X5.place,
    switches.volts, name. Fields of a cell are name, number, zone, reach, rest, device, fitted, keep_warm (ohms and
    volts), ohms, tolerance; of a line label, name, wire, path, chain, supply, select, when; of a part name, place,
    rating, rate. Lists have blanks between: 'U4-3 Q3 X5-3'. Of a layout that comes with the program a copy is made here
    first.
    """
    from matrixcheck.layout.edit.editing import edit_layout
    from matrixcheck.layout.files import bytes_of_layout, find_layout, look_over, parse_layout
    from matrixcheck.layout.schema import lay_beside
    from matrixcheck.layout.source import source_of
    from matrixcheck.whole_files import drafted, replace

    path = find_layout(layout)
    target, copied = _target(path)
    text = bytes_of_layout(path).decode()
    before = parse_layout(text, str(path))
    warned = {(problem.key, problem.reason) for problem in look_over(path)}
    changes = _changes(pairs, before)
    edited = edit_layout(text, str(path), changes)
    found = _differences(changes, before, edited.layout)
    if edited.text == text and job is None:
        nothing: dict[str, object] = {"written": [], "copy": False, "changes": [], "warnings": [], "job": None}
        say_or_json("Nothing differs.", nothing, as_json)
        return
    bench = bench_of(context) if job is not None else None
    source = source_of(target, edited.text.encode())
    with ExitStack() as waste:
        # The job first: a file that says more than the job is told of, a job that says more than its file is not.
        draft = drafted(target, edited.text, waste)
        goes_on = bench is not None and job is not None and not bench.has_layout(job, edited.layout, source)
        relaid = bench.relayout(job, edited.layout, source) if bench and job is not None and goes_on else None
        replace(draft, target)
    if copied:
        lay_beside(target)
    written = target if copied else path
    new = [problem for problem in look_over(target) if (problem.key, problem.reason) not in warned]
    if as_json:
        from matrixcheck.report.act_data import difference_data, relaid_data

        print_json(
            {
                "format": 1,
                "written": [str(written)],
                "copy": copied,
                "changes": list(map(difference_data, found)),
                "warnings": [problem.in_full() for problem in new],
                "job": relaid_data(relaid.differences, relaid.state) if relaid else None,
            }
        )
        return
    for line in found:
        say(str(line))
    say(f"Written: {written}" + (", a copy of the one that comes with the program" if copied else ""))
    for problem in new:
        say(problem.in_full())
    if relaid is not None:
        say_kept(_kept(relaid))


def relayout(
    context: typer.Context,
    job: Job,
    layout: LayoutName,
    yes: Annotated[bool, typer.Option("--yes", help="Go on without asking.")] = False,
    as_json: AsJson = False,
) -> None:
    """Go on with another layout of the machine, as after a correction. Shows what differs first.

    Cells are matched by number, then by name, then by place. All readings stay; those of a cell that the layout no
    longer has are kept, and count again once a layout has it.
    """
    from matrixcheck.layout.files import read_found
    from matrixcheck.report.tables import differences_table

    found, source = read_found(layout)
    bench = bench_of(context)
    would = bench.relayout_would(job, found, source)
    if as_json and yes:
        from matrixcheck.report.act_data import relaid_data

        done = bench.relayout(job, found, source)
        say_kept_or_json([_kept(done)], lambda: relaid_data(done.differences, done.state), True)
        return
    if as_json:
        raise UsageError("the job was left as it is: nobody is asked with --json", "add --yes")
    if would.differences:
        show(differences_table(would.differences))
    else:
        say("The same layout, in another file.")
    if not yes and not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("the job was left as it is: nobody can be asked here", "add --yes")
    if not yes and not typer.confirm("\nGo on with this layout?", default=True):
        say("The job was left as it is.")
        return
    say_kept(_kept(bench.relayout(job, found, source)))


def _kept(relaid: "Relayout") -> str:
    from matrixcheck.record.differences import said

    return f"kept  layout put right: {said(relaid.differences)}"


def _target(path: Path) -> tuple[Path, bool]:
    """Return the file to write, and whether it is a copy: what comes with the program stays as it is."""
    from matrixcheck.layout.shipped import is_shipped

    if not is_shipped(path):
        # A person may keep the file elsewhere and lay a link to it.
        return path.resolve(), False
    target = Path(path.name)
    if target.exists():
        raise UsageError(
            f"{str(target)!r} is there already, and {path.stem} is a layout of the program", f"set values in ./{target}"
        )
    return target, True


def _changes(pairs: list[str], layout: "Layout") -> "list[Change]":
    from matrixcheck.layout.edit.keys import Change, key_named, value_of

    if len(pairs) % 2:
        raise UsageError(f"{pairs[-1]!r} has no value", "give KEY VALUE, as in switches.33.name 'tram stop 3'")
    keys = [key_named(text, layout) for text in pairs[::2]]
    return [Change(key, value_of(key, text)) for key, text in zip(keys, pairs[1::2], strict=True)]


def _differences(changes: "list[Change]", before: "Layout", after: "Layout") -> "list[Difference]":
    """Return what each change did."""
    from matrixcheck.layout.edit.keys import key_text, value_at
    from matrixcheck.record.differences import Difference, value_words

    return [
        Difference(key_text(key, before), *(value_words(value_at(one, key)) for one in (before, after)))
        for key, _ in changes
    ]
