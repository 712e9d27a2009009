"""Bench checks and repairs as evidence on sets of candidates: what a check can't see, it says nothing of."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from msgspec.structs import replace
from record_case import state_after

from matrixcheck.bench import Bench
from matrixcheck.diagnosis.advice.bench_checks.by_code import every_check, finding_of, found_at
from matrixcheck.diagnosis.advice.bench_checks.work_order import check_minutes
from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.inference.unknown_breaks import whole_breaks
from matrixcheck.diagnosis.machine.candidates import candidates
from matrixcheck.diagnosis.machine.fault_keys import fault_key
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.prior_updates import CHECKS, HARMLESS, updated_priors
from matrixcheck.diagnosis.machine.priors import shipped_rates
from matrixcheck.diagnosis.machine.rates_file import rates_of
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass
from matrixcheck.errors import UsageError
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Mark, Reading
from matrixcheck.record.events import Found, body_of, event_from
from tests.machines import saltmarsh_tram, shipped_layout

TRAM = saltmarsh_tram()
PLAIN = shipped_layout("switch-8x8")


@cache
def known_checks(name: str) -> tuple[Finding, ...]:
    """What a person may record of every check of a layout, each kind once for every matrix and class of fault."""
    layout = shipped_layout(name)
    found: dict[tuple[str, str, FaultClass], Finding] = {}
    for known in every_check(layout).values():
        for fault in known.check.splits:
            kind = (known.check.check, (fault.lines or fault.cells)[0].matrix, fault.fault)
            if kind not in found:
                found[kind] = found_at(known, "good")[0]
    return tuple(found.values())


@pytest.mark.parametrize("verdict", ["good", "faulty"])
@pytest.mark.parametrize("layout", ["saltmarsh-tram", "switch-8x8", "lamp-8x8", "coil-8x2"])
def test_a_check_moves_what_it_sees_and_nothing_else(layout: str, verdict: str) -> None:
    """Good makes what it sees rarer, faulty likelier; a glow that a bulb confirms is the other way about."""
    machine = shipped_layout(layout)
    pool = (*candidates(machine), *whole_breaks(machine, shipped_rates()))
    assert len(known_checks(layout)) > 8
    for known in known_checks(layout):
        finding = replace(known, verdict=verdict)
        rarer = (verdict == "good") is not (known.check in HARMLESS)
        moved = updated_priors(machine, pool, [finding])
        changed = {}
        for before, after in zip(pool, moved, strict=True):
            if before.rate != after.rate:
                changed[fault_key(machine, before)] = after.rate < before.rate
        assert set(changed) == set(known.faults) - {f"wrong-device:{known.place}"}, known
        assert all(less is rarer for less in changed.values()), (known, changed)


def test_every_kind_of_check_is_known_and_every_share_it_names_has_a_rate() -> None:
    assert set(check_minutes()) == set(CHECKS)
    names = {name for seen in CHECKS.values() for name in seen.values()}
    assert names | {"replaced", "wrongly faulty"} == set(shipped_rates().check)


@pytest.mark.parametrize("layout", ["saltmarsh-tram", "switch-8x8", "lamp-8x8", "coil-8x2"])
def test_a_check_that_confirms_a_fault_sees_its_class(layout: str) -> None:
    for known in known_checks(layout):
        classes = {FaultClass(key.partition(":")[0]) for key in known.faults}
        assert classes <= set(CHECKS[known.check]), known


def test_what_the_board_says_clears_driver_and_chip_and_leaves_wire_and_contact() -> None:
    finding, follows = finding_of(TRAM, "board.switches.c3", "good")
    assert set(finding.faults) == {"open:U1-16", "open:Q3"}
    assert finding.points[0] == "board pin X1-3"
    assert "contact and wire" in follows
    before, after = rates_after(), rates_after(finding)
    for text, left in (("open:Q3", 0.1), ("open:U1-16", 0.1), ("open:X1-3", 1), ("open:switches.c3", 1)):
        own = parse_fault(text, TRAM)
        assert odds(after[own]) / odds(before[own]) == pytest.approx(left, rel=1e-9, abs=0)


@pytest.mark.parametrize("kind", ["marks", "lists"])
def test_a_verdict_by_code_moves_the_answer_between_board_and_loom(kind: str) -> None:
    board = parse_fault("open:Q3", TRAM), parse_fault("open:U1-16", TRAM)
    loom = parse_fault("open:X1-3", TRAM), parse_fault("open:switches.c3", TRAM)

    def share(*findings: Finding) -> float:
        (suspect, *_) = diagnose(TRAM, readings(TRAM, kind), findings).suspects
        weight = dict(zip(suspect.members, suspect.shares, strict=True))
        assert {*board, *loom} <= set(weight)
        return sum(weight[each] for each in board)

    good, faulty = (finding_of(TRAM, "board.switches.c3", said)[0] for said in ("good", "faulty"))
    assert share(good) < 0.2 * share() < share() < share(faulty)
    assert share(faulty) > 0.9


def test_a_reading_in_between_is_kept_and_moves_nothing(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(TRAM, "checks")
    found, follows = bench.checked(job, "WIRE.switches.C3", "30 ohms", "near the hinge")
    assert (found.code, found.verdict, found.value) == ("wire.switches.c3", "between", "30 ohms")
    assert "isn't dead from that" in follows
    assert [(one.finding, one.note) for one in bench.state(job).findings] == [(found, "near the hinge")]
    assert bench.state(job).known == ()
    bench.checked(job, "wire.switches.c3", "0.3")
    assert [(one.verdict, one.finding.value) for one in bench.state(job).findings] == [("good", "0.3 ohms")]
    assert bench.log(job)[-1].text == "bench check: wire.switches.c3 good (0.3 ohms)"
    bench.repair(job, "switches.c3")
    assert bench.state(job).findings == ()
    bench.close()


def test_a_repair_outdates_the_checks_that_looked_at_what_was_repaired_and_no_other(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(TRAM, "checks")
    for code in ("board.switches.c3", "wire.switches.c3", "fuse.F2"):
        bench.checked(job, code, "good")
    bench.repair(job, "Q3")
    assert [one.finding.code for one in bench.state(job).findings] == ["wire.switches.c3", "fuse.F2"]
    bench.close()


def test_a_finding_of_an_old_book_still_opens_and_speaks_of_its_place() -> None:
    old = event_from("finding", '{"finding":{"place":"Q3","verdict":"good","check":"transistor"},"note":"swapped"}')
    assert old == Found(finding=Finding(place="Q3", verdict="good", check="transistor"), note="swapped")
    assert body_of(old) == '{"finding":{"place":"Q3","verdict":"good","check":"transistor"},"note":"swapped"}'
    state = state_after(old)
    assert [(one.place, one.check, one.note) for one in state.findings] == [("Q3", "transistor", "swapped")]
    after, before = rates_after(*state.known), rates_after()
    own = parse_fault("open:Q3", TRAM)
    assert odds(after[own]) / odds(before[own]) == pytest.approx(0.4, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("code", "said", "verdict"),
    [
        ("fuse.F2", "0.2", "good"),
        ("fuse.F2", "OL", "faulty"),
        ("fuse.F2", "3", "between"),
        ("contact.X1-3", "1.5 ohms", "faulty"),
        ("ground.switches.c3", "0.3", "faulty"),
        ("ground.switches.c3", "2.2k", "between"),
        ("ground.switches.c3", "open", "good"),
        ("coil.coils.2", "4.3", "good"),
        ("coil.coils.2", "1.9", "faulty"),
        ("coil.coils.2", "9", "faulty"),
        ("coil.coils.2", "5.2", "between"),
        ("value.coils.2", "5.2", "faulty"),
        ("diode.switches.24", "0.55/OL", "good"),
        ("diode.switches.24", "OL/0.6", "good"),
        ("diode.switches.24", "OL/OL", "faulty"),
        ("diode.switches.24", "0.02/20 mV", "faulty"),
        ("diode.switches.24", "0.5/0.5", "between"),
        ("driver-short.Q33", "0.5/OL", "good"),
        ("driver-short.Q33", "OL/OL", "good"),
        ("driver-short.Q33", "0.01/0.01", "faulty"),
        ("input.switches.r3", "4.9 V", "good"),
        ("input.switches.r3", "0.2", "faulty"),
        ("stuck.switches.24", "1k", "faulty"),
    ],
)
def test_a_value_is_judged_by_the_limits_of_its_check(code: str, said: str, verdict: str) -> None:
    assert finding_of(TRAM, code, said)[0].verdict == verdict


@pytest.mark.parametrize(
    ("code", "said", "message"),
    [
        ("wire.switches.c3", "three", "can't read 'three' as ohms"),
        ("wire.switches.c3", "3 V", "can't read '3 V' as ohms"),
        ("diode.switches.24", "0.55", "takes two readings"),
        ("wire.switches.c3", "0.3/0.4", "takes one reading"),
        ("plug.X5", "0.3", "plug.X5 is not judged by a value"),
        ("wire.switches.c9", "good", "no bench check is called 'wire.switches.c9'"),
        ("wore.switches.c3", "good", "no bench check is called 'wore.switches.c3'"),
    ],
)
def test_what_can_not_be_read_is_refused_in_a_line(code: str, said: str, message: str) -> None:
    with pytest.raises(UsageError, match=message) as refused:
        finding_of(TRAM, code, said)
    assert "\n" not in str(refused.value)
    assert refused.value.hint


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
