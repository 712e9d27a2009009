"""The work list: grouped by the state of the machine, each caution once and above its group, each check once."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest
from drawn_machines import evenings, machines
from hypothesis import given, settings
from hypothesis import strategies as st
from record_case import START
from syrupy.assertion import SnapshotAssertion

from matrixcheck.diagnosis.advice.bench_checks.cautions import FIRST, LIVE, SPECIAL
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.forward.simulate import predict
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.result import Diagnosis
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Reading
from matrixcheck.record.events import JobOpened, Read, Recorded
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import replay
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.work_list import WorkList, work_list
from matrixcheck.report.work_list_text import work_lines
from tests.machines import saltmarsh_tram

TRAM = saltmarsh_tram()


def job_of(layout: Layout, readings: list[Reading]) -> JobState:
    events = (JobOpened(name="job", layout=layout), *(Read(reading=one) for one in readings))
    return replay(Recorded(seq, "job1", seq, START, event) for seq, event in enumerate(events, 1))


def listed(layout: Layout, readings: list[Reading], *, power_on: bool = False) -> tuple[WorkList, Diagnosis]:
    state = job_of(layout, readings)
    found = diagnose(layout, state.current, state.known)
    return work_list(found, answer_of_job(found, state), state, power_on=power_on, also_possible=True), found


def with_faults(*texts: str) -> list[Reading]:
    cells = [Reading(matrix=matrix.id, cell=cell.key) for matrix in TRAM.matrices for cell in matrix.fitted]
    return list(predict(TRAM, [parse_fault(text, TRAM) for text in texts], cells))


@pytest.fixture(scope="module")
def readings() -> list[Reading]:
    return with_faults("open:Q3", "unplugged:X7", "device-dead:coils.5")


@pytest.mark.parametrize("width", [100, 78, 60])
def test_the_work_list_reads_as_it_did(readings: list[Reading], width: int, snapshot: SnapshotAssertion) -> None:
    lines = [line.text for line in work_lines(listed(TRAM, readings)[0], width, "1abc")]
    assert max(map(len, lines)) <= width
    if width == 78:
        assert "\n".join(lines) == snapshot


def flaws(work: WorkList, found: Diagnosis, power_on: bool) -> list[str]:
    flaws = []
    steps = [step for group in work.groups for step in group.steps]
    codes = [step.check.code for step in steps]
    if len(set(codes)) < len(codes) or set(codes) != {check.code for check in found.checks}:
        flaws.append(f"checks lost or twice: {codes}")
    if [step.number for step in steps] != list(range(1, len(steps) + 1)):
        flaws.append("numbers")
    states = [(group.power, group.setup) for group in work.groups]
    if any(one == other for one, other in pairwise(states)):
        flaws.append(f"one state in two groups: {states}")
    urgent = [step.check.hazard in FIRST for step in steps]
    if urgent != sorted(urgent, reverse=True):
        flaws.append("danger after yield")
    rest = [step.check for step in steps if step.check.hazard not in FIRST and step.check.setup != "board out"]
    if [check.power is not power_on for check in rest] != sorted(check.power is not power_on for check in rest):
        flaws.append("power changes more than once")
    said: set[str] = set()
    power = None
    for group in work.groups:
        said = said if group.power is power else set()
        power = group.power
        for caution in (*group.cautions, *(one for step in group.steps for one in step.cautions)):
            if caution in said:
                flaws.append(f"said twice: {caution}")
            said.add(caution)
        wanted = {one for step in group.steps for one in sentences(step.check.caution)}
        if not wanted <= {one for text in said for one in sentences(text)}:
            flaws.append(f"not said: {wanted}")
        between = {one for step in group.steps for one in step.cautions}
        if any((one not in SPECIAL and not group.power) or one in LIVE for one in between):
            flaws.append(f"between checks: {between}")
    return flaws


def sentences(text: str) -> list[str]:
    return re.split(r"(?<=\.) ", text)


@pytest.mark.parametrize("power_on", [False, True])
def test_each_caution_is_said_once_and_above_what_it_is_for(readings: list[Reading], power_on: bool) -> None:
    work, found = listed(TRAM, readings, power_on=power_on)
    assert work.count >= 12
    assert flaws(work, found, power_on) == []
    assert work.groups[0].power is power_on


def test_a_plug_that_is_off_is_not_pulled_again(readings: list[Reading]) -> None:
    work, _ = listed(TRAM, readings)
    for group in work.groups:
        for before, after in pairwise(group.steps):
            if before.check.plugs == after.check.plugs and after.check.plugs and not group.power:
                assert "Pull plug" not in after.do, after.check.code
                assert "Pull plug" in after.check.do


def test_a_coil_that_stays_on_stops_the_list() -> None:
    state = job_of(TRAM, [])
    held = diagnose(TRAM, ()).model_copy(update={"danger": "Switch off now.", "stop": True})
    work = work_list(held, answer_of_job(held, state), state)
    assert work.groups == ()
    assert [line.text for line in work_lines(work, 60, "1abc")] == ["Switch off now."]


@settings(max_examples=4)
@given(st.data())
def test_the_list_of_any_machine_and_any_readings_is_sound(data: st.DataObject) -> None:
    layout = data.draw(machines(most=2))
    readings = data.draw(evenings(layout))
    work, found = listed(layout, readings)
    assert flaws(work, found, power_on=False) == []
    assert max((len(line.text) for line in work_lines(work, 60, "1abc")), default=0) <= 60
