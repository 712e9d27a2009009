"""The demonstration's evening: a scenario file, and how it is played on a bench book, step by step.

Everything goes through the use cases of `bench`, as from any other face. What is planted is compared with what the
diagnosis names; the scenario says when it should be found.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, time
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.result import Diagnosis, Suspect, to_json
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.earth_limit import EarthLimit, earth_limit, lead_of
from matrixcheck.record.entry import parse_places
from matrixcheck.report.answer.ranking import ranked
from matrixcheck.report.sheet import Sheet


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Planted(_Table):
    """A fault that was put in. `fault` holds keys and values as a suspect's member has them in a diagnosis' JSON."""

    says: str
    fault: dict[str, Any]

    def suspect_in(self, diagnosis: Diagnosis) -> Suspect | None:
        """Return the suspect of the likeliest explanation that names this fault, or what lights by itself.

        None where neither does.
        """
        first = ranked(diagnosis)
        named = (*first.shared, *first.private, *first.glow)
        return next((one for one in named if any(map(self._is, one.members))), None)

    def _is(self, member: object) -> bool:
        values = to_json(member)
        return all(values[key] == value for key, value in self.fault.items())


class SafetyCheck(_Table):
    """One check before power: passed or not, or what the meter showed with a mains lead of so many metres and mm²."""

    item: str
    passed: bool = False
    ohms: float | None = None
    lead: str = ""
    note: str = ""


class BenchFinding(_Table):
    """What a bench check said of a place."""

    place: str
    verdict: Literal["good", "faulty"]
    note: str


class Repair(_Table):
    """What was put right, and how."""

    place: str
    did: str = ""
    note: str = ""


class Deferral(_Table):
    """Cells that are put off."""

    matrix: str
    cells: str
    reason: str


class Hold(_Table):
    """A hold round: the cells kept closed, all that shows then, and what was typed meanwhile."""

    matrix: str
    cells: str
    shows: str
    marks: str


class Step(_Table):
    """A few minutes at the machine.

    `rest` and `marks` go by matrix id, `checks` by code. `retest` is what is typed in a round over just what is due,
    `strike` the words of an entry of the history that is struck out. `finds` names what is planted and must come out
    now; what a step `expects` must stand in what is said of the job then, and what it names under `never` must not.
    """

    at: time
    says: str
    safety: tuple[SafetyCheck, ...] = ()
    rest: dict[str, str] = Field(default_factory=dict)
    hold: Hold | None = None
    walk: str | None = None
    marks: dict[str, str] = Field(default_factory=dict)
    defer: Deferral | None = None
    finding: BenchFinding | None = None
    checks: dict[str, str] = Field(default_factory=dict)
    repair: Repair | None = None
    retest: str = ""
    strike: str = ""
    close: str = ""
    expects: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    finds: tuple[str, ...] = ()
    show: tuple[str, ...] = ()


class Scenario(_Table):
    """An evening on one machine."""

    layout: str
    name: str
    serial: str
    owner: str
    date: date
    planted: dict[str, Planted]
    steps: tuple[Step, ...] = Field(alias="step")


class Check(NamedTuple):
    """Whether a planted fault was found; `suspect` is None where it wasn't."""

    planted: Planted
    suspect: Suspect | None


class PlayedStep(NamedTuple):
    """A step that was played.

    `sheet`, all that a report tells, is there where the step looks at the job, `checks` where it looks for faults.
    """

    step: Step
    sheet: Sheet | None
    checks: tuple[Check, ...]


class Watch:
    """The clock of a scenario."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def __call__(self) -> datetime:
        return self.now


def the_evening() -> Scenario:
    """Return the evening that comes with the program: many faults, and how much of them is found."""
    return shipped("evening")


def the_visit() -> Scenario:
    """Return the visit that comes with the program: one fault, from before power to the report."""
    return shipped("visit")


def shipped(name: str) -> Scenario:
    """Return a scenario that comes with the program: within the installed package, or beside it in a checkout."""
    package = Path(str(files("matrixcheck")))
    homes = (package / "demo" / f"{name}.toml", package.parent / "demo" / f"{name}.toml")
    found = next(path for path in homes if path.is_file())
    return Scenario.model_validate(tomllib.loads(found.read_text(encoding="utf-8")))


def played(scenario: Scenario, book: Path) -> Iterator[PlayedStep]:
    """Play a scenario on a bench book, which need not exist yet, and give each step with what is said of the job."""
    for bench, job, step, now in recorded(scenario, book):
        yield _played(bench, job, step, scenario.planted, now)


def recorded(scenario: Scenario, book: Path) -> Iterator[tuple[Bench, str, Step, datetime]]:
    """Record a scenario in a bench book, which need not exist yet, and give each step as soon as that is done."""
    layout = read_layout(find_layout(scenario.layout))
    watch = Watch(datetime.combine(scenario.date, scenario.steps[0].at, UTC))
    bench = Bench(book, watch)
    try:
        job = bench.new_job(layout, scenario.name, scenario.serial, scenario.owner)
        for step in scenario.steps:
            watch.now = datetime.combine(scenario.date, step.at, UTC)
            record_step(bench, job, step)
            yield bench, job, step, watch.now
    finally:
        bench.close()


def record_step(bench: Bench, job: str, step: Step) -> None:
    """Record all that happens in one step."""
    layout = bench.state(job).layout
    for check in step.safety:
        if check.ohms is None:
            bench.safety(job, check.item, check.passed, check.note)
        else:
            limit = earth_limit(EarthLimit.PLUS_LEAD, lead_of(check.lead))
            bench.measure_check(job, check.item, check.ohms, limit, check.note)
    for matrix_id, shows in step.rest.items():
        bench.rest_scan(job, matrix_id, shows)
    if step.hold:
        matrix = layout.matrix(step.hold.matrix)
        bench.start_round(job, matrix.id, "hold", parse_places(step.hold.cells, matrix))
        bench.rest_scan(job, matrix.id, step.hold.shows)
        bench.mark(job, matrix.id, step.hold.marks)
        bench.end_round(job)
    if step.walk:
        bench.start_round(job, step.walk, "walk")
    for matrix_id, entries in step.marks.items():
        bench.mark(job, matrix_id, entries)
    if step.walk:
        bench.end_round(job)
    if step.defer:
        bench.defer(job, parse_places(step.defer.cells, layout.matrix(step.defer.matrix)), step.defer.reason)
    _put_right(bench, job, step)


def _put_right(bench: Bench, job: str, step: Step) -> None:
    """Record checks, a repair with its retest, a slip that is struck out, and the end of the job."""
    if step.finding:
        finding = Finding(place=step.finding.place, verdict=step.finding.verdict)
        bench.finding(job, finding, step.finding.note)
    for code, said in step.checks.items():
        bench.checked(job, code, said)
    if step.repair:
        bench.repair(job, step.repair.place, step.repair.note, did=step.repair.did)
    if step.retest:
        matrix_id, _ = bench.start_retest(job)
        bench.mark(job, matrix_id, step.retest)
        bench.end_round(job)
    if step.strike:
        slip = next(line for line in bench.log(job) if line.text == step.strike)
        bench.undo(job, event=slip.seq)
    if step.close:
        bench.close_job(job, step.close)


def _played(bench: Bench, job: str, step: Step, planted: Mapping[str, Planted], now: datetime) -> PlayedStep:
    if not (step.finds or step.expects):
        return PlayedStep(step, None, ())
    diagnosis = bench.diagnosis(job)
    sheet = Sheet(bench.state(job), diagnosis, bench.status(job), bench.later(job), now)
    return PlayedStep(
        step, sheet, tuple(Check(planted[name], planted[name].suspect_in(diagnosis)) for name in step.finds)
    )
