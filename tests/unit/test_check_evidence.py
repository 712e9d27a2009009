"""Bench checks and repairs as evidence on sets of candidates: what a check can't see, it says nothing of."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.advice.bench_checks.ranking import _minutes, bench_checks
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.machine.candidates import Candidate, candidates, faults_of
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.prior_updates import CHECKS, updated_priors
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.machine.rates_file import rates_of
from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, Fault, FaultClass, Suspect
from matrixcheck.errors import UsageError
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Mark, Reading

TRAM = read_layout(find_layout("saltmarsh-tram"))
PLAIN = read_layout(find_layout("switch-8x8"))


def place_of(fault: Fault | Candidate) -> str:
    """Name the place that a person records a check of this fault at, as the screens do."""
    return fault.part or str((*fault.lines, *fault.cells)[0])


@cache
def proposed(name: str) -> tuple[BenchCheck, ...]:
    """Every check that is proposed for any single fault of a layout, each kind once for every kind of place."""
    layout = read_layout(find_layout(name))
    found: dict[tuple[str, str, FaultClass], BenchCheck] = {}
    for fault in (each for each, _ in faults_of(layout) if each.fault is not FaultClass.KEEP_WARM_GLOW):
        alone = Suspect(id="s", probability=0.5, members=(fault,), explains=(), contradicts=(), untested=(), says="")
        for check in bench_checks(layout, [alone]):
            member = check.splits[0]
            kind = (member.lines or member.cells)[0].matrix
            found.setdefault((check.check, kind, member.fault), check)
    return tuple(found.values())


def at_that_place(fault: Candidate, place: str) -> bool:
    """Say by names alone whether a fault may sit at a place: a part or its contacts, a line's wire, a cell."""
    named = [fault.part, fault.other] if fault.part else [*fault.lines] if fault.lines else [*fault.cells]
    return any(str(each) == place or str(each).startswith(f"{place}-") for each in named if each is not None)


@pytest.mark.parametrize("verdict", ["good", "faulty"])
@pytest.mark.parametrize("layout", ["saltmarsh-tram", "switch-8x8", "lamp-8x8", "coil-8x2"])
def test_a_check_never_changes_the_odds_between_candidates_that_it_can_not_see(layout: str, verdict: str) -> None:
    machine = read_layout(find_layout(layout))
    pool = candidates(machine)
    assert len(proposed(layout)) > 8
    for check in proposed(layout):
        place = place_of(check.splits[0])
        finding = Finding(place=place, verdict="good" if verdict == "good" else "faulty", check=check.check)
        moved = updated_priors(machine, pool, [finding])
        changed = [before for before, after in zip(pool, moved, strict=True) if before.rate != after.rate]
        assert changed, check
        assert all(each.fault_class in CHECKS[check.check] for each in changed), check
        assert all(at_that_place(each, place) for each in changed), (check, changed[0])
        assert all(place_of(each) != place for each in pool if each.fault in check.splits and each not in changed), (
            check
        )


@pytest.mark.parametrize("layout", ["saltmarsh-tram", "switch-8x8", "lamp-8x8", "coil-8x2"])
def test_a_check_moves_what_it_would_confirm(layout: str) -> None:
    """Good makes the fault that it looks for rarer, faulty makes it likelier."""
    machine = read_layout(find_layout(layout))
    pool = {each.fault: each for each in candidates(machine)}
    for check in proposed(layout):
        place = place_of(check.splits[0])
        looked_for = [pool[fault] for fault in check.splits if place_of(fault) == place and fault in pool]
        for verdict, sign in (("good", -1), ("faulty", 1)):
            finding = Finding(place=place, verdict="good" if sign < 0 else "faulty", check=check.check)
            for before, after in zip(looked_for, updated_priors(machine, looked_for, [finding]), strict=True):
                assert (after.rate - before.rate) * sign > 0, (check, verdict, before)


def test_every_kind_of_check_is_known_and_every_share_it_names_has_a_rate() -> None:
    assert set(CHECKS) == set(_minutes())
    names = {name for seen in CHECKS.values() for name in seen.values()}
    assert names | {"replaced", "wrongly faulty"} == set(shipped_rates().check)


def readings(layout: Layout, kind: str) -> list[Reading]:
    """Return a column 3 that is dead but for a few untested cells, by marks or by lists."""
    matrix = layout.matrices[0]
    cells = [cell.key for cell in matrix.fitted if cell.notes.rest != "closed" and (cell.key.row + cell.key.column) % 5]
    if kind == "marks":
        marks = {True: Mark.DEAD, False: Mark.WORKING}
        return [Reading(matrix=matrix.id, cell=cell, mark=marks[cell.column == 3]) for cell in cells]
    return [Reading(matrix=matrix.id, cell=cell, answered=() if cell.column == 3 else (cell,)) for cell in cells]


def chance(found: Diagnosis, fault: Fault) -> float:
    return sum(suspect.probability for suspect in found.suspects if fault in suspect.members)


@pytest.mark.parametrize("kind", ["marks", "lists"])
@pytest.mark.parametrize("layout", [PLAIN, TRAM], ids=["a generic layout", "the invented machine"])
def test_a_good_first_wire_leaves_driver_and_contact_suspected(layout: Layout, kind: str) -> None:
    """It was measured and is good: what else opens the column explains it as well as before."""
    place = f"{layout.matrices[0].id}.c3"
    own = parse_fault("open:Q3" if layout is TRAM else f"open:{place}", layout)
    for finding in (Finding(place=place, verdict="good"), Finding(place=place, verdict="good", check="first wire")):
        assert chance(diagnose(layout, readings(layout, kind), [finding]), own) > 0.95


@pytest.mark.parametrize("kind", ["marks", "lists"])
def test_what_was_found_faulty_leads_and_what_was_found_good_does_not(kind: str) -> None:
    def first(*findings: Finding) -> Fault:
        found = diagnose(TRAM, readings(TRAM, kind), findings)
        return found.suspect(found.explanations[0].suspects[0]).members[0]

    assert first(Finding(place="Q3", verdict="faulty")) == parse_fault("open:Q3", TRAM)
    assert first(Finding(place="X1-3", verdict="good", check="contact")) != parse_fault("open:X1-3", TRAM)
    assert first(Finding(place="U1-16", verdict="faulty", check="logic probe")) == parse_fault("open:U1-16", TRAM)


def rates_after(*findings: Finding) -> dict[Fault, float]:
    return {each.fault: each.rate for each in updated_priors(TRAM, candidates(TRAM), findings)}


def odds(rate: float) -> float:
    return rate / (1 - rate)


@pytest.mark.parametrize(
    ("place", "fault", "left"),
    [
        ("F2", "fuse-blown:F2", 0.01),
        ("Q3", "open:Q3", 0.4),
        ("Q3", "stuck-on:Q3", 0.05),
        ("X5", "unplugged:X5", 0.1),
        ("X5", "plug-shifted:X5:1", 0.1),
        ("X2", "plugs-swapped:X1:X2", 0.1),
        ("X5", "open:X5-3", 0.7),
        ("X5-3", "open:X5-3", 0.1),
        ("K1", "relay-stuck:K1", 0.3),
        ("switches.c3", "open:switches.c3", 0.05),
        ("switches.c3", "break:switches.c3:2", 0.05),
        ("switches.c3", "grounded:switches.c3", 1.0),
        ("switches.c3", "stuck-on:switches.c3", 1.0),
        ("switches.c3", "open:Q3", 1.0),
        ("lamps.7", "device-dead:lamps.7", 0.02),
        ("switches.r1c3", "device-dead:switches.r1c3", 0.1),
    ],
)
def test_a_place_found_good_keeps_what_such_a_look_leaves_over(place: str, fault: str, left: float) -> None:
    """As an old book has it: the place and the verdict, and no word on the check."""
    place = "lamps.r7c1" if place == "lamps.7" else place
    own = parse_fault(fault, TRAM)
    after, before = rates_after(Finding(place=place, verdict="good"))[own], rates_after()[own]
    assert odds(after) / odds(before) == pytest.approx(left, rel=1e-9, abs=0)


def test_a_replaced_part_keeps_little_of_all_that_sits_in_it() -> None:
    after, before = rates_after(Finding(place="X5", verdict="replaced")), rates_after()
    for text in ("unplugged:X5", "plug-shifted:X5:-1", "open:X5-3"):
        own = parse_fault(text, TRAM)
        assert odds(after[own]) / odds(before[own]) == pytest.approx(0.02, rel=1e-9, abs=0)


def test_of_a_place_found_faulty_one_fault_is_there_by_its_share() -> None:
    after, before = rates_after(Finding(place="X5", verdict="faulty")), rates_after()
    moved = {fault: rate for fault, rate in after.items() if rate != before[fault]}
    assert sum(moved.values()) == pytest.approx(0.95, rel=1e-9, abs=0)
    off, contact = parse_fault("unplugged:X5", TRAM), parse_fault("open:X5-3", TRAM)
    seen = before[off] * 0.9 / (before[contact] * 0.3)
    assert moved[off] / moved[contact] == pytest.approx(seen, rel=1e-9, abs=0)


def test_a_workshop_says_what_its_checks_leave_over() -> None:
    own = rates_of(b'[check]\n"driver open" = 0.9\n', "own.toml")
    fault = parse_fault("open:Q3", TRAM)
    pool = [each for each in candidates(TRAM) if each.fault == fault]
    (after,) = updated_priors(TRAM, pool, [Finding(place="Q3", verdict="good")], own)
    assert odds(after.rate) / odds(pool[0].rate) == pytest.approx(0.9, rel=1e-9, abs=0)


def test_two_checks_of_one_place_are_both_kept_and_the_later_one_of_a_kind_counts(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(TRAM, "checks")
    for check, verdict in (("first wire", "good"), ("wire to ground", "faulty"), ("first wire", "faulty")):
        bench.finding(job, Finding(place="switches.c3", verdict="good" if verdict == "good" else "faulty", check=check))
    assert [(one.check, one.verdict) for one in bench.state(job).known] == [
        ("wire to ground", "faulty"),
        ("first wire", "faulty"),
    ]
    bench.finding(job, Finding(place="switches.c3", verdict="good"))
    assert [(one.check, one.verdict) for one in bench.state(job).known] == [("", "good")]
    with pytest.raises(UsageError, match="no kind of check is called 'frist wire'"):
        bench.finding(job, Finding(place="switches.c3", verdict="good", check="frist wire"))
    bench.close()


def test_a_line_of_unknown_chain_that_was_found_broken_is_likelier_broken() -> None:
    """Two lamps at the end of a row are dead: both bulbs, or a break before them that nobody can place."""
    lamps = TRAM.matrix("lamps")
    cells = [cell.key for cell in lamps.fitted if cell.key.row == 3]
    seen = [Reading(matrix="lamps", cell=cell, answered=() if cell.column > 6 else (cell,)) for cell in cells]

    lost = {cell for cell in cells if cell.column > 6}

    def broken(*findings: Finding) -> float:
        found = diagnose(TRAM, seen, findings)
        breaks = [one for one in found.suspects if any(each.lines and lost <= {*each.cells} for each in one.members)]
        return sum(one.probability for one in breaks)

    place = "lamps.r3"
    good = Finding(place=place, verdict="good", check="across the break")
    faulty = Finding(place=place, verdict="faulty", check="across the break")
    assert broken(good) < broken() < broken(faulty)
    assert broken(faulty) > 5 * broken()
