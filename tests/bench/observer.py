"""Draw how a technician writes down what was seen.

Some cells by a mark alone, some marks wrong, resistances of some coils, cells that were tried again while a loose
contact happened to hold, and what was found at the bench meanwhile.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tests.spice.bank import Bank, Fault, Place, address
from tests.spice.simulate import Exercise, simulate
from tests.spice.wiring import Board

Readings = list[dict[str, Any]]
TRIED_AGAIN = 6


@dataclass(frozen=True)
class Observer:
    """Describe how one set of readings is written down.

    `marked` and `wrong`: places of readings that are a mark alone, and of wrong ones. `ohms`: at measured places, the
    share of the resistance due that a wrong coil has there, and what the meter adds. `again`: exercises made once more
    while the open lines `loose` held.
    """

    marked: frozenset[int] = frozenset()
    wrong: frozenset[int] = frozenset()
    ohms: tuple[tuple[Place, float, float], ...] = ()
    again: tuple[Exercise, ...] = ()
    loose: frozenset[str] = frozenset()

    def readings(self, bank: Bank, faults: tuple[Fault, ...], board: Board, plan: tuple[Exercise, ...]) -> Readings:
        """Return the readings as they are written down, of a bank with these faults."""
        seen = simulate(bank, faults, board, plan)
        if self.again:
            holding = tuple(each for each in faults if not _is_loose(each) or self.loose - {*each.lines})
            seen += simulate(bank, holding, board, self.again)
        wrong = {fault.cells[0] for fault in faults if fault.fault == "wrong-device"}
        ohms = {
            address(place): round(bank.notes[place]["ohms"] * (share if place in wrong else 1.0) * meter, 2)
            for place, share, meter in self.ohms
        }
        found = []
        for index, reading in enumerate(seen):
            body = _marked_wrong(reading) if index in self.wrong else reading
            body = _as_mark(body, seen) if index in self.marked else body
            cell = body.get("cell")
            found.append(body | {"ohms": ohms[cell]} if cell in ohms else body)
        return found


def content(reading: Mapping[str, Any]) -> tuple[object, ...]:
    """Return what a reading says, to be compared."""
    answered = reading.get("answered")
    shown = None if answered is None else frozenset(answered)
    return reading.get("cell"), shown, frozenset(reading.get("faint", ())), reading.get("mark"), reading.get("ohms")


def draw_wrong(rng: random.Random, plan: Sequence[Exercise], chance: float) -> frozenset[int]:
    """Draw the readings whose exercised cell is judged wrongly."""
    return frozenset(i for i, exercise in enumerate(plan) if exercise.cell and rng.random() < chance)


def draw_marked(rng: random.Random, plan: Sequence[Exercise], chance: float) -> frozenset[int]:
    """Draw the readings that are a mark alone: in so many cases of all some share of them, or every one."""
    if rng.random() >= chance:
        return frozenset()
    share = rng.choice((0.3, 0.6, 1.0))
    return frozenset(i for i, exercise in enumerate(plan) if exercise.cell and rng.random() < share)


def draw_ohms(rng: random.Random, bank: Bank, faults: Sequence[Fault]) -> tuple[tuple[Place, float, float], ...]:
    """Draw what is measured at coils: most of the wrong ones, some of the others, each to a few per cent.

    A coil that is dead by itself is open: nothing is written down of it that would call it sound.
    """
    wrong = {fault.cells[0] for fault in faults if fault.fault == "wrong-device"}
    dead = {fault.cells[0] for fault in faults if fault.fault == "device-dead"}
    drawn = tuple(
        (place, rng.choice((rng.uniform(0.4, 0.8), rng.uniform(1.25, 2.0))), rng.uniform(0.97, 1.03))
        for place, note in sorted(bank.notes.items())
        if "ohms" in note and rng.random() < (0.9 if place in wrong else 0.2)
    )
    return tuple(measured for measured in drawn if measured[0] not in dead)


def draw_again(
    rng: random.Random, bank: Bank, faults: Sequence[Fault], plan: Sequence[Exercise], chance: float
) -> tuple[frozenset[str], tuple[Exercise, ...]]:
    """Draw, in so many cases, the open lines that held while some of their cells were tried again, and these."""
    loose = list(filter(_is_loose, faults))
    if not loose or rng.random() >= chance:
        return frozenset(), ()
    lost = {place for line in loose[0].lines for place in bank.cells_of(line)}
    there = [exercise for exercise in plan if exercise.cell in lost]
    return frozenset(loose[0].lines), tuple(rng.sample(there, min(TRIED_AGAIN, len(there))))


def draw_findings(rng: random.Random, bank: Bank, faults: Sequence[Fault], chance: float) -> list[dict[str, str]]:
    """Draw, in so many cases of all, findings at the bench.

    A part of an open line found faulty, or one of several found good; and two parts of sound lines found good.
    """
    if rng.random() >= chance:
        return []
    found = []
    opened = [fault for fault in faults if fault.fault == "open" and fault.part is None]
    if opened:
        path = bank.lines[opened[0].lines[0]].path
        if rng.random() < 0.5:
            found.append({"place": rng.choice(path), "verdict": "faulty"})
        elif len(path) > 1:
            found.append({"place": rng.choice(path), "verdict": "good"})
    struck = {ref for fault in faults for line in fault.lines for ref in bank.lines[line].path}
    struck |= {fault.part for fault in faults if fault.part}
    sound = sorted({ref for line in bank.lines.values() for ref in line.path} - struck)
    return found + [{"place": ref, "verdict": "good"} for ref in rng.sample(sound, min(2, len(sound)))]


def _is_loose(fault: Fault) -> bool:
    """Return whether it may come and go: a plug or an open line, not a chip."""
    return fault.fault == "unplugged" or (fault.fault == "open" and fault.part is None)


def _marked_wrong(reading: dict[str, Any]) -> dict[str, Any]:
    """Return the reading with its cell judged the other way; one that was called working is called faint no more."""
    answered = set(reading["answered"]) ^ {reading["cell"]}
    faint = [cell for cell in reading.get("faint", ()) if cell not in answered]
    return reading | {"answered": sorted(answered)} | ({"faint": faint} if "faint" in reading else {})


def _as_mark(reading: dict[str, Any], seen: Readings) -> dict[str, Any]:
    """Return the reading as a mark alone.

    A cell that was on while nothing was exercised is stuck; faint lamps are marked as dead.
    """
    cell = reading["cell"]
    at_rest = [each for each in seen if "cell" not in each and each["held"] == reading["held"]]
    if cell not in reading["answered"]:
        mark = "dead"
    else:
        mark = "stuck" if any(cell in each["answered"] for each in at_rest) else "working"
    return {"matrix": reading["matrix"], "cell": cell, "held": reading["held"], "mark": mark}
