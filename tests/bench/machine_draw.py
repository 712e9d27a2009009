"""Draw whole machines: five matrices that share plugs, chips and fuses, with faults across them, and what the circuit
simulator shows of each."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from matrixcheck.layout.files import parse_layout
from tests.bench.cases import classes_for, draw_board, draw_fault, draw_plan, goes_with, with_ohms
from tests.bench.layouts import draw_bank, machine_text
from tests.bench.observer import Observer, content, draw_ohms, draw_wrong
from tests.bench.rated import RatedFaults, simulated
from tests.spice.bank import Bank, Conductor, Fault, address
from tests.spice.simulate import Exercise
from tests.spice.wiring import Board

SHARED_PART = 0.4
"""Chance that a fault is drawn among the parts that matrices share."""
MARKS_ALONE = 0.4
"""Chance that a matrix is read by marks alone."""
OF_PARTS = {"X": "unplugged", "U": "open", "F": "fuse-blown"}
Readings = list[dict[str, Any]]


@dataclass(frozen=True)
class Planted:
    """One fault of a machine: in each matrix that it takes hold of, as the circuit simulator takes it."""

    by_matrix: Mapping[str, Fault]

    def json(self, hidden: Iterable[str]) -> dict[str, Any]:
        """As an entry of a list of injected faults; a break in a matrix whose chains are `hidden` has no count."""
        bodies = [fault.json(matrix) for matrix, fault in sorted(self.by_matrix.items())]
        body = dict(bodies[0])
        if len(bodies) > 1:
            body["lines"] = [line for each in bodies for line in each.get("lines", ())]
        if not self.by_matrix.keys().isdisjoint(hidden):
            body.pop("after", None)
        return body


@dataclass(frozen=True)
class Round:
    """How one matrix is read. `silent`: nobody says that a fuse went; `rest`: rest scans are written down."""

    bank: Bank
    board: Board
    plan: tuple[Exercise, ...]
    observer: Observer
    known: bool
    silent: bool
    rest: bool


@dataclass(frozen=True)
class Machine:
    """One machine: its rounds in the order they are made, the faults with their visibility, and the readings."""

    rounds: tuple[Round, ...]
    faults: tuple[Planted, ...] = ()
    visible: tuple[bool, ...] = ()
    readings: Readings = field(default_factory=list)
    seen: dict[Any, tuple[Readings, bool]] = field(default_factory=dict, compare=False)

    @property
    def layout(self) -> str:
        """The layout file's text."""
        return machine_text(
            [(each.bank, frozenset(each.bank.lines) if each.known else frozenset()) for each in self.rounds]
        )

    @property
    def misjudged(self) -> tuple[str, ...]:
        """The cells that were judged wrongly, as `lamps.r1c3`."""
        return tuple(
            f"{each.bank.id}.{address(cell)}"
            for each in self.rounds
            for index in sorted(each.observer.wrong)
            if (cell := each.plan[index].cell)
        )

    def injected(self) -> list[dict[str, Any]]:
        """As a list of injected faults."""
        hidden = [each.bank.id for each in self.rounds if not each.known]
        return [fault.json(hidden) | {"visible": seen} for fault, seen in zip(self.faults, self.visible, strict=True)]

    def observed(self, faults: Sequence[Planted]) -> Readings:
        """Give the readings of the machine with these faults. A fuse that goes is gone in the rounds that follow."""
        gone: set[str] = set()
        found: Readings = []
        for each in self.rounds:
            bank = each.bank
            its = tuple(fault.by_matrix[bank.id] for fault in faults if bank.id in fault.by_matrix)
            already = {fault.part for fault in its}
            its += tuple(fault_of_part(bank, part) for part in sorted(gone & fuses_of(bank)) if part not in already)
            key = bank.id, its
            if key not in self.seen:
                self.seen[key] = _observed(each, its)
            readings, blew = self.seen[key]
            found += readings
            gone |= set(bank.supply) if blew else set()
        return found

    def differing(self, suspects: Iterable[Mapping[str, Any]]) -> int:
        """Count the readings that would be others if the first members of these suspects were the faults."""
        banks = [each.bank for each in self.rounds]
        named = [planted(banks, suspect["members"][0]) for suspect in suspects]
        return sum(content(a) != content(b) for a, b in zip(self.observed(named), self.readings, strict=True))


def planted(banks: Iterable[Bank], member: Mapping[str, Any]) -> Planted:
    """Return a member of a suspect as a fault of these banks."""
    found = {}
    for bank in banks:
        start = f"{bank.id}."
        its = {key: [place for place in member[key] if place.startswith(start)] for key in ("lines", "cells")}
        if any(its.values()):
            found[bank.id] = simulated({**member, **its}, bank.shared)
    return Planted(found)


def _observed(each: Round, faults: tuple[Fault, ...]) -> tuple[Readings, bool]:
    """The readings of one round as they are written down, and whether a fuse went."""
    readings = each.observer.readings(each.bank, faults, each.board, each.plan)
    blew = any("blew" in reading for reading in readings)
    if each.silent:
        readings = [{key: value for key, value in reading.items() if key != "blew"} for reading in readings]
    return [reading for reading in readings if each.rest or "cell" in reading], blew


def draw_machine(
    seed: str, count: int, *, wrong: float = 0.0, marks: float = MARKS_ALONE, rated: bool = False
) -> Machine:
    """Draw the machine of a seed with `count` faults. `wrong`: chance of a wrong mark of an exercised cell; `marks`:
    chance that a matrix is read by marks alone; `rated`: faults come by the shipped rates and not evenly by class.

    Faults that cover each other up, so that none of them is visible though something shows, are drawn again.
    """
    rng = random.Random(f"machine {seed}")
    while True:
        banks = share_parts(rng, draw_banks(rng))
        faults = _draw_rated(rng, banks, count) if rated else _draw_faults(rng, banks, count)
        machine = Machine(tuple(_draw_round(rng, bank, faults, marks) for bank in banks), faults)
        whole = list(map(content, machine.observed(faults)))
        seen = tuple(
            list(map(content, machine.observed(faults[:i] + faults[i + 1 :]))) != whole for i in range(len(faults))
        )
        if any(seen) or whole == list(map(content, machine.observed(()))):
            break
    rounds = tuple(
        replace(each, observer=replace(each.observer, wrong=draw_wrong(rng, each.plan, wrong)))
        for each in machine.rounds
    )
    machine = Machine(rounds, faults, seen)
    return replace(machine, readings=machine.observed(faults))


def draw_banks(rng: random.Random) -> list[Bank]:
    """Draw two switch matrices, or one and direct inputs; lamps; a coil bank with its relay; lighting strings."""
    second = rng.choice(("switch", "inputs"))
    kinds = {"switches": "switch", "more": second, "lamps": "lamp", "coils": "coil", "strings": "strings"}
    return [
        _renamed(replace(draw_bank(rng, kind), id=name), str(place))
        for place, (name, kind) in enumerate(kinds.items(), 1)
    ]


def _renamed(bank: Bank, digit: str) -> Bank:
    """The bank with a digit before the number of every part but its relays."""
    return _with_parts(bank, lambda ref: ref if ref[0] == "K" else f"{ref[0]}{digit}{ref[1:]}")


def _with_parts(bank: Bank, name: Callable[[str], str]) -> Bank:
    lines = {
        key: replace(line, path=tuple(map(name, line.path)), supply=tuple(map(name, line.supply)))
        for key, line in bank.lines.items()
    }
    return replace(bank, lines=lines, supply=tuple(map(name, bank.supply)))


def share_parts(rng: random.Random, banks: Sequence[Bank]) -> list[Bank]:
    """Let banks after the first use plugs (at least one), chips and fuses of the banks before them."""
    found = [banks[0]]
    for bank in banks[1:]:
        joined = bank
        for letter, chance in (("X", 0.6 if len(found) > 1 else 1.0), ("U", 0.25), ("F", 0.4)):
            theirs = sorted({part for other in found for part in _owners(other, letter)})
            own = _owners(joined, letter)
            if theirs and own and rng.random() < chance:
                joined = _merged(joined, rng.choice(own), rng.choice(theirs), found)
        found.append(joined)
    return found


def _owners(bank: Bank, letter: str) -> list[str]:
    """The parts that a bank may share; fuses of a coil bank's sides stay its own."""
    refs = {ref for line in bank.lines.values() for ref in line.path} | set(bank.supply)
    if bank.is_strings:
        refs |= fuses_of(bank)
    return sorted({ref.partition("-")[0] for ref in refs if ref[0] == letter})


def _merged(bank: Bank, own: str, other: str, before: Sequence[Bank]) -> Bank:
    """The bank with its part `own` as part of `other`, on contacts beyond those in use."""
    paths = [ref.partition("-") for each in before for line in each.lines.values() for ref in line.path]
    used = max((int(pin) for part, _, pin in paths if part == other and pin), default=0)

    def name(ref: str) -> str:
        part, dash, pin = ref.partition("-")
        if part != own:
            return ref
        return f"{other}-{int(pin) + used}" if dash else other

    return _with_parts(bank, name)


def fuses_of(bank: Bank) -> set[str]:
    """The fuses of a bank."""
    return set(bank.supply) | {part for line in bank.lines.values() for part in line.supply}


def fault_of_part(bank: Bank, part: str) -> Fault:
    """The fault of a whole plug, chip or fuse, as far as it takes hold of one bank."""
    if part[0] == "F":
        lines: Iterable[Conductor] = bank.lines.values()
        fed = tuple(line.key for line in lines if line.is_column and part in bank.supply + line.supply)
        return Fault("fuse-blown", part, fed)
    return Fault(OF_PARTS[part[0]], part, bank.through(part))


def _everywhere(banks: Sequence[Bank], part: str) -> Planted:
    return Planted({bank.id: fault for bank in banks if (fault := fault_of_part(bank, part)).lines})


def _draw_faults(rng: random.Random, banks: Sequence[Bank], count: int) -> tuple[Planted, ...]:
    uses = {
        part: [b for b in banks if part in _owners(b, part[0])]
        for b in banks
        for a in OF_PARTS
        for part in _owners(b, a)
    }
    shared = sorted(part for part, its in uses.items() if len(its) > 1)
    found: list[Planted] = []
    while len(found) < count:
        if rng.random() < SHARED_PART:
            drawn = _everywhere(banks, rng.choice(shared))
        else:
            bank = rng.choice(banks)
            fault = draw_fault(rng, bank, rng.choice(classes_for(bank)))
            whole = fault.part in shared and fault.fault == OF_PARTS.get(fault.part[0])
            drawn = _everywhere(banks, fault.part) if whole else Planted({bank.id: fault})
        if _goes_with(drawn, found):
            found.append(drawn)
    return tuple(found)


def _goes_with(one: Planted, others: Sequence[Planted]) -> bool:
    return all(
        goes_with(fault, [each.by_matrix[matrix] for each in others if matrix in each.by_matrix])
        for matrix, fault in one.by_matrix.items()
    )


def _draw_rated(rng: random.Random, banks: Sequence[Bank], count: int) -> tuple[Planted, ...]:
    """Draw so many faults by the shipped rates, and what banks have besides, which is no fault."""
    known = RatedFaults(parse_layout(machine_text([(bank, frozenset(bank.lines)) for bank in banks]), "drawn"))
    make = partial(planted, banks)
    return (*known.draw(rng, count, make, _goes_with), *known.draw_of_banks(rng, make))


def _draw_round(rng: random.Random, bank: Bank, faults: Sequence[Planted], marks: float) -> Round:
    board = draw_board(rng, bank)
    bank = with_ohms(bank, board)
    leave_out = rng.choice((0.0, 0.1, 0.2, 0.3))
    alone = rng.random() < marks
    plan = draw_plan(rng, bank, leave_out)
    if alone:
        plan = (Exercise(None), *(Exercise(each.cell) for each in plan if each.cell))
    marked = frozenset(i for i, each in enumerate(plan) if each.cell) if alone else frozenset()
    its = [fault.by_matrix[bank.id] for fault in faults if bank.id in fault.by_matrix]
    observer = Observer(marked=marked, ohms=draw_ohms(rng, bank, its))
    silent = board.strong and rng.random() < 0.5
    return Round(bank, board, plan, observer, rng.random() >= 0.25, silent, not alone or rng.random() < 0.5)
