"""Commands of the analyser: suspects of a job or of a readings file, predicted readings."""

from typing import TYPE_CHECKING, Annotated

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson, Job, LayoutName, Learned, RatesFile, Seconds
from matrixcheck.cli.as_json import print_json
from matrixcheck.cli.case import CaseFile, case_in, case_of, reported
from matrixcheck.cli.common import bench_of, cells_of, layout_of, limit_of, rates_of, show_stop, text_of
from matrixcheck.cli.outputs import print_whole
from matrixcheck.cli.progress import progress
from matrixcheck.cli.showing import console, show, show_lines
from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import COIL_CELSIUS

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Diagnosis
    from matrixcheck.record.case import Case
    from matrixcheck.report.answer.model import Answer, Card


Whole = Annotated[bool, typer.Option("--all", help="Print every card in full, with its evidence and checks.")]


def suspects(
    context: typer.Context,
    job: Job,
    number: Annotated[
        int | None,
        typer.Argument(metavar="[N]", help="Print the card of this number in full.", show_default=False),
    ] = None,
    whole: Whole = False,
    seconds: Seconds = None,
    as_json: AsJson = False,
    case: CaseFile = None,
    rates: RatesFile = None,
    learned: Learned = False,
) -> None:
    """Name the faults, how sure each is, and what to do first.

    A card a fault, dangers first. `suspects JOB N` prints one card in full, `--all` every one.
    """
    limit = limit_of(seconds)
    bench = bench_of(context, rates_of(context, rates, learned=learned))
    state = bench.state(job)
    if state.coils.stop and not as_json:
        show_stop(state)
        return
    with reported(case, case_of(bench, job)), progress():
        found = bench.diagnosis(job, limit)
    from matrixcheck.report.answer.build import answer_of_job

    _show(found, answer_of_job(found, state), as_json, whole, number, state.id)


def checks(
    context: typer.Context,
    job: Job,
    number: Annotated[
        int | None,
        typer.Argument(metavar="[N]", help="Only the checks of the card of this number.", show_default=False),
    ] = None,
    power_on: Annotated[
        bool, typer.Option("--power-on", help="The machine is on now: what needs the power comes first.")
    ] = False,
    whole: Annotated[bool, typer.Option("--all", help="List the checks for what is also possible, too.")] = False,
    seconds: Seconds = None,
    as_json: AsJson = False,
    rates: RatesFile = None,
    learned: Learned = False,
) -> None:
    """List the bench checks as work, by power and set-up. Each says what good and faulty show.

    Danger first. Record a check by its code: `finding JOB CODE good`.
    """
    limit = limit_of(seconds)
    bench = bench_of(context, rates_of(context, rates, learned=learned))
    state = bench.state(job)
    if state.coils.stop and not as_json:
        show_stop(state)
        return
    with progress():
        found = bench.diagnosis(job, limit)
    from matrixcheck.report.answer.build import answer_of_job
    from matrixcheck.report.work_list import work_list
    from matrixcheck.report.work_list_text import work_lines

    answer = answer_of_job(found, state)
    if number is not None and not answer.stop:
        _card(answer, number)
    work = work_list(found, answer, state, card=number, power_on=power_on, also_possible=whole)
    if as_json:
        from matrixcheck.diagnosis.result import to_json

        print_json({"format": 1, **to_json(work)})
        return
    show_lines(work_lines(work, console().width, job))


def diagnose(
    context: typer.Context,
    layout: Annotated[
        str,
        typer.Argument(
            metavar="LAYOUT",
            help="A layout file, or the name of a shipped one. A file that --case wrote needs no other.",
            show_default=False,
            autocompletion=completing.layouts,
        ),
    ],
    readings: Annotated[
        str | None,
        typer.Argument(
            metavar="READINGS", help="A file of readings in JSON Lines; - reads standard input.", show_default=False
        ),
    ] = None,
    celsius: Annotated[
        float,
        typer.Option(
            "--celsius",
            metavar="DEGREES",
            help="Temperature of the coils when they were measured, -40 to 150; their resistance is brought to 20.",
        ),
    ] = 20.0,
    coil_fuse_out: Annotated[
        bool,
        typer.Option("--coil-fuse-out", help="The fuse of a coil that is on at rest is out."),
    ] = False,
    whole: Whole = False,
    seconds: Seconds = None,
    as_json: AsJson = False,
    case: CaseFile = None,
    rates: RatesFile = None,
    learned: Learned = False,
) -> None:
    """Say what would explain a readings file. Needs no job."""
    limit = limit_of(seconds)
    if not COIL_CELSIUS.holds(celsius):
        raise UsageError(f"--celsius is a temperature from {COIL_CELSIUS}, not {celsius:g}", "leave it out for 20 °C")
    from matrixcheck.config.place import read_rates_at

    given = case_in(layout) if readings is None else _case_from(layout, readings)
    # A case gives the same answer on every computer.
    is_case = readings is None and not learned
    own = read_rates_at(rates) if is_case else rates_of(context, rates, learned=learned)
    from matrixcheck.record.coil_lock import COIL_FUSE_OUT, SWITCH_OFF_NOW, checked, lock_of

    lock = checked(lock_of(given.readings, given.layout), COIL_FUSE_OUT, coil_fuse_out)
    if lock.stop and not as_json:
        show(SWITCH_OFF_NOW, "Then ask again with --coil-fuse-out.")
        return
    from matrixcheck.diagnosis.attempt import attempt
    from matrixcheck.diagnosis.forward.coil_resistance import brought_to_20
    from matrixcheck.report.answer.build import answer_of
    from matrixcheck.report.stop import held_back

    given = given._replace(readings=brought_to_20(given.readings, celsius))
    with reported(case, given), progress():
        found = attempt(*given, limit, rates=own)
    held = held_back(found, lock)
    _show(held, answer_of(held, given.layout, given.readings), as_json, whole)


def _case_from(layout: str, readings: str) -> "Case":
    from matrixcheck.record.case import Case
    from matrixcheck.record.readings import read_readings

    machine = layout_of(layout)
    text, source = text_of(readings)
    return Case(machine, read_readings(text, machine, source))


def predict(
    layout: LayoutName,
    faults: Annotated[
        list[str] | None,
        typer.Option(
            "--fault",
            metavar="FAULT:WHERE",
            help="A fault to put in, as in the list above. May be given several times.",
            show_default=False,
        ),
    ] = None,
    held: Annotated[
        str,
        typer.Option(
            "--held",
            metavar="CELLS",
            help="Cells kept closed meanwhile, commas between; needs --matrix.",
            show_default=False,
        ),
    ] = "",
    matrix: Annotated[
        str | None,
        typer.Option(
            "--matrix",
            metavar="ID",
            help="This matrix only.",
            show_default=False,
            autocompletion=completing.matrices,
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Print the readings that faults would give. They are a readings file, fit for `diagnose LAYOUT -`.

    Every fault, each with an example of where:

    \b
      open:Q3                              a part or a line (switches.c3)
      break:switches.c3:2                  a line, after 2 of its cells
      unplugged:X5                         a plug
      plugs-swapped:X1:X2                  two like plugs in each other's place
      plug-shifted:X6:1                    a plug one pin too high; :-1 too low
      fuse-blown:F3                        a fuse
      relay-stuck:K1                       a relay, or :rest, :pulled
      stuck-on:lamps.c4                    a line
      grounded:switches.r3                 a line
      shorted-together:lamps.c1:lamps.c2   two rows or two columns
      crossed:switches.r1:switches.r2      two rows or two columns
      device-dead:lamps.7                  a cell; or as lamps.r2c3
      device-stuck:switches.r2c3           a cell
      diode-open:switches.r2c3             a cell
      diode-shorted:lamps.r2c3             a cell
      diode-reversed:lamps.9               a cell
      wrong-device:coils.1                 a coil
      keep-warm-glow:coils                 a matrix, or cells
    """
    machine = layout_of(layout)
    if held and matrix is None:
        raise UsageError("--held needs --matrix", "name the matrix of these cells")
    chosen = machine.matrices if matrix is None else (machine.matrix(matrix),)
    kept_closed = cells_of([held], chosen[0], machine) if held else ()
    from matrixcheck.diagnosis.forward.simulate import predict as readings_with
    from matrixcheck.diagnosis.machine.fault_notation import parse_fault
    from matrixcheck.layout.reading import Reading
    from matrixcheck.record.readings import reading_data, write_readings

    put_in = [parse_fault(text, machine) for text in faults or ()]
    exercises = [
        Reading(matrix=one.id, cell=key, held=kept_closed)
        for one in chosen
        for key in (None, *(cell.key for cell in one.in_walk_order if cell.key not in kept_closed))
    ]
    with progress("working it out …"):
        predicted = list(readings_with(machine, put_in, exercises))
    if as_json:
        print_json({"format": 1, "readings": list(map(reading_data, predicted))})
    else:
        print_whole(write_readings(predicted, machine))


def _show(
    found: "Diagnosis", answer: "Answer", as_json: bool, whole: bool, number: int | None = None, job: str = ""
) -> None:
    if as_json:
        from matrixcheck.diagnosis.result import to_json

        print_json({**to_json(found), "answer": to_json(answer)})
        return
    from matrixcheck.report.answer.full import answer_in_full, card_in_full
    from matrixcheck.report.answer.text import answer_lines

    width = console().width
    if number is not None:
        show_lines(card_in_full(answer, _card(answer, number), found, width))
    else:
        show_lines(answer_in_full(answer, found, width) if whole else answer_lines(answer, width, job))


def _card(answer: "Answer", number: int) -> "Card":
    card = answer.card(number)
    if card is None:
        count = len(answer.cards)
        raise UsageError(f"no card {number}", f"take one of 1 to {count}" if count else "nothing is found yet")
    return card


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.command("suspects")(suspects)
    app.command("checks")(checks)
    app.command("diagnose")(diagnose)
    app.command("predict")(predict)
