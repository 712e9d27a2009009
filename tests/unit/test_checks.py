"""Bench checks: what would part the members of a suspect, in the order of least effort, and what can hurt."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest
from diagnosis_case import machine
from syrupy.assertion import SnapshotAssertion
from test_wording import GROUPS

from matrixcheck.diagnosis.advice.bench_checks.ranking import bench_checks
from matrixcheck.diagnosis.machine.candidates import faults_of
from matrixcheck.diagnosis.machine.fault_notation import parse_fault
from matrixcheck.diagnosis.machine.keep_warm import glow_faults
from matrixcheck.diagnosis.result import BenchCheck, Fault, Suspect
from matrixcheck.layout.model import Layout
from tests.machines import saltmarsh_tram, shipped_layout

LAYOUT = machine()


def suspect(*members: Fault, name: str = "s1", probability: float = 0.8) -> Suspect:
    return Suspect(id=name, probability=probability, members=members, explains=(), contradicts=(), untested=(), says="")


def typed(*texts: str, name: str = "s1", probability: float = 0.8) -> Suspect:
    return suspect(*(parse_fault(text, LAYOUT) for text in texts), name=name, probability=probability)


def checks_of(*texts: str, layout: Layout = LAYOUT) -> tuple[BenchCheck, ...]:
    return bench_checks(layout, [typed(*texts)])


def test_every_sort_of_group_gets_checks_in_plain_words(snapshot: SnapshotAssertion) -> None:
    told = {
        name: [
            " | ".join((check.code, check.do, *check.points, check.good, check.faulty, check.between, check.then))
            for check in checks_of(*texts)
        ]
        for name, texts in GROUPS.items()
    }
    assert told == snapshot


@pytest.mark.parametrize("name", ["saltmarsh-tram", "switch-8x8", "lamp-8x8", "coil-8x2"])
def test_every_fault_of_a_shipped_layout_has_a_check_that_would_confirm_it(name: str) -> None:
    layout = shipped_layout(name)
    for fault in (*(each for each, _ in faults_of(layout)), *glow_faults(layout)):
        found = bench_checks(layout, [suspect(fault)])
        assert found, fault
        assert any(check.splits for check in found), fault
        assert all(check.splits in ((fault,), ()) for check in found)


ONE_LOOK = (
    "a plug off, or one pin off",
    "break in an unknown chain, several ways",
)
"""The groups of which one look shows all, and which of them it is."""


@pytest.mark.parametrize("name", [name for name, texts in GROUPS.items() if len(texts) > 1])
def test_the_checks_of_a_group_part_its_members(name: str) -> None:
    members = {parse_fault(text, LAYOUT) for text in GROUPS[name]}
    found = checks_of(*GROUPS[name])
    assert all(set(check.splits) <= members for check in found)
    assert any(set(check.splits) < members for check in found) or name in ONE_LOOK


def test_a_stuck_driver_and_a_grounded_wire_are_parted_by_unplugging() -> None:
    column = typed("stuck-on:switches.c1", "grounded:switches.c1").members
    (tried,) = [check for check in bench_checks(LAYOUT, [suspect(*column)]) if "still" in check.faulty]
    # A grounded column wire still pulls its rows with the plug off; a stuck driver no longer reaches it.
    assert tried.splits == (column[1],)
    assert "Pull plug X5" in tried.prepare
    row = typed("stuck-on:switches.r1", "grounded:switches.r1").members
    (tried,) = [check for check in bench_checks(LAYOUT, [suspect(*row)]) if "still" in check.faulty]
    # An input that is stuck still reads closed with its wire off.
    assert tried.splits == (row[0],)


def test_a_line_that_holds_coils_on_is_never_tried_with_the_power_on() -> None:
    found = checks_of("stuck-on:coils.r1", "grounded:coils.r1")
    assert {check.code for check in found} >= {"driver-short.Q21", "ground.coils.r1", "before-new.Q21"}
    assert not any(check.power for check in found)
    for check in found:
        assert "solenoid supply" in check.caution
        assert check.hazard == "fuse" or "the coil fuse stays out until" in check.caution
        assert "lets go" not in check.caution


@pytest.mark.parametrize("texts", GROUPS.values(), ids=GROUPS)
def test_every_check_says_what_can_hurt_and_power_is_named_where_it_is_on(texts: list[str]) -> None:
    found = checks_of(*texts)
    assert found
    for check in found:
        assert check.caution
        assert ("Power is on" in check.caution) is check.power
        assert check.power or "Switch off" in check.caution
        coils = any(cell.matrix == "coils" for fault in check.splits for cell in fault.cells)
        assert not coils or "solenoid supply" in check.caution
        assert check.setup != "playfield up" or "prop it with its own stay" in check.caution


def test_a_check_says_what_it_would_find_and_what_each_fault_is_worth() -> None:
    groups = [typed("unplugged:X5", "open:U4", name="a", probability=0.2), typed("fuse-blown:F2", name="b")]
    found = bench_checks(LAYOUT, groups, {"a": [3, 1]})
    plug = next(check for check in found if check.code == "plug.X5")
    assert plug.probability == pytest.approx(0.15, rel=1e-12, abs=0)
    assert all(check.probability == pytest.approx(sum(check.chances), rel=1e-12, abs=1e-12) for check in found)
    assert all(len(check.chances) == len(check.splits) for check in found)


def test_a_part_is_named_with_the_place_where_it_sits() -> None:
    (check,) = checks_of("unplugged:X5")
    assert "X5 (lower left of the driver board)" in check.do
    fuse = next(check for check in checks_of("fuse-blown:F2") if check.code == "fuse.F2")
    assert "5 A T" in fuse.good


def test_a_chip_is_swapped_with_a_like_one_where_there_is_one() -> None:
    tram = saltmarsh_tram()
    found = bench_checks(tram, [suspect(parse_fault("open:U2", tram))])
    assert any(check.points == ("U2", "U3") for check in found)
    alone = bench_checks(tram, [suspect(parse_fault("open:U1", tram))])
    assert alone
    assert all(check.points[0] != "U1" for check in alone)


def test_a_check_that_serves_two_suspects_stands_once_with_the_likelier_first() -> None:
    groups = [typed("fuse-blown:F2", name="a", probability=0.1), typed("fuse-blown:F2", name="b", probability=0.7)]
    found = bench_checks(LAYOUT, groups)
    assert [check.suspects for check in found] == [("b", "a")] * len(found)
    assert len({check.code for check in found}) == len(found)


def test_only_so_many_checks_are_named() -> None:
    groups = [typed(f"device-dead:switches.{n}", f"diode-open:switches.{n}", name=str(n)) for n in (1, 2, 3, 4)]
    assert len(bench_checks(LAYOUT, groups)) == 16
    assert len(bench_checks(LAYOUT, groups, limit=3)) == 3


def test_every_effort_in_the_data_is_used_and_positive() -> None:
    room = files("matrixcheck.diagnosis.advice.bench_checks")
    data = tomllib.loads(room.joinpath("checks.toml").read_text("utf-8"))["minutes"]
    source = "".join(each.read_text("utf-8") for each in room.iterdir() if each.name.endswith(".py"))
    assert all(minutes > 0 for minutes in data.values())
    assert [name for name in data if f'"{name}"' not in source] == []
