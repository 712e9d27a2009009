"""The command of the checks before power: it lists them, and keeps how one came out."""

from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson, Job
from matrixcheck.cli.as_json import print_json, say_kept_or_json
from matrixcheck.cli.common import bench_of, configuration_of, danger
from matrixcheck.cli.showing import show
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matrixcheck.record.job_state import SafetyCheckMade

_HOW = "type pass, fail, waive with --reason, or what was measured"


def safety(
    context: typer.Context,
    job: Job,
    item: Annotated[
        str | None,
        typer.Argument(
            metavar="[ITEM]",
            help="A check from the list, a plug or fuse (X5, F2), several (X1-X9, plugs), or one of your own.",
            show_default=False,
            autocompletion=completing.safety_checks,
        ),
    ] = None,
    result: Annotated[
        str | None,
        typer.Argument(
            metavar="[RESULT]",
            help="pass, fail, waive, or what was measured: ohms of an earth bond, megohms of insulation.",
            show_default=False,
            autocompletion=completing.one_of("pass", "fail", "waive"),
        ),
    ] = None,
    passed: Annotated[bool, typer.Option("--passed", help="The same as pass.")] = False,
    failed: Annotated[bool, typer.Option("--failed", help="The same as fail.")] = False,
    found: Annotated[
        str,
        typer.Option(
            "--found",
            metavar="TEXT",
            help="What is printed on a fuse, held to the layout's rating.",
            show_default=False,
        ),
    ] = "",
    reason: Annotated[str, typer.Option("--reason", help="Why a check is waived.", show_default=False)] = "",
    note: Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)] = "",
    lead: Annotated[
        str,
        typer.Option("--lead", metavar="MxMM2", help="The mains lead: metres x mm², as 2.5x0.75.", show_default=False),
    ] = "",
    limit: Annotated[
        float | None, typer.Option("--limit", metavar="OHMS", help="A limit of your own.", show_default=False)
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the checks before power, or keep how one came out."""
    bench = bench_of(context)
    if item is None:
        _list(context, job, as_json)
        return
    if sum((result is not None, passed, failed, bool(found))) != 1:
        raise UsageError("safety needs one result", _HOW)
    word = "pass" if passed else "fail" if failed else (result or "").strip().lower()
    before = bench.state(job)
    if found:
        bench.fuse_found(job, item, found, note)
    elif word in ("pass", "fail"):
        bench.safety(job, item, word == "pass", note)
    elif word == "waive":
        bench.waive_check(job, item, reason or note)
    else:
        from matrixcheck.layout.check_names import is_earth
        from matrixcheck.record.earth_limit import earth_limit, lead_of

        rule = configuration_of(context).mains_region
        held = earth_limit(rule, lead_of(lead) if lead else None, limit) if is_earth(item) else None
        bench.measure_check(job, item, _number(word), held, note)
    state = bench.state(job)
    made = state.safety[len(before.safety) :]
    from matrixcheck.report.act_data import safety_kept

    say_kept_or_json([*_kept(made), *danger(state)], lambda: safety_kept(made, state), as_json)


def _kept(made: "Sequence[SafetyCheckMade]") -> list[str]:
    """Return what was kept, a line each; many of one kind in one line."""
    from matrixcheck.record.safety_checks import outcome_of

    words = [{"failed": "FAILED"}.get(outcome_of(one), outcome_of(one)) for one in made]
    if len(made) > 1:
        return [f"kept  {len(made)} {words[0]}: {', '.join(one.item for one in made)}"]
    judged = made[0].reading is not None or made[0].note.startswith("found ")
    return [f"kept  {made[0].item} {words[0]}{f': {made[0].note}' if judged else ''}"]


def _list(context: typer.Context, job: str, as_json: bool) -> None:
    from matrixcheck.record.safety_checks import checklist

    items = checklist(bench_of(context).state(job))
    if as_json:
        from matrixcheck.report.data import safety_data

        print_json(safety_data(items))
        return
    from matrixcheck.report.tables import safety_lines

    show(*safety_lines(items))


def _number(word: str) -> float:
    try:
        return float(word.replace(",", "."))
    except ValueError:
        raise UsageError(f"'{word:.40}' is not a result", _HOW) from None


def add_to(app: typer.Typer) -> None:
    """Put this command into the program."""
    app.command("safety")(safety)
