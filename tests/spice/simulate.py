"""Readings of a bank with faults, exercise by exercise, in the form of a readings file."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from tests.spice import lamps, switches
from tests.spice.bank import Bank, Fault, Place, address, place_of
from tests.spice.wiring import Board, Wiring


@dataclass(frozen=True)
class Exercise:
    """One exercise of a plan: the cell (None: a rest scan) and the cells held closed meanwhile."""

    cell: Place | None
    held: tuple[Place, ...] = ()


def simulate(bank: Bank, faults: tuple[Fault, ...], board: Board, plan: tuple[Exercise, ...]) -> list[dict[str, Any]]:
    """The readings that the plan would give, in its order. A fuse that goes stays gone for the rest of the plan."""
    readings = []
    wiring = Wiring(bank, faults)
    for exercise in plan:
        body: dict[str, Any] = {"matrix": bank.id}
        if exercise.cell:
            body["cell"] = address(exercise.cell)
        body["held"] = [address(place) for place in exercise.held]
        if bank.kind == "switch":
            closed = frozenset(exercise.held) | ({exercise.cell} if exercise.cell else set())
            body["answered"] = [address(place) for place in sorted(switches.scan(bank, wiring, board, closed))]
        else:
            shown = lamps.command(bank, wiring, board, exercise.cell)
            gone = shown.blew - wiring.blown
            if gone:
                wiring = Wiring(bank, (*wiring.faults, *(Fault("fuse-blown", part) for part in sorted(gone))))
                shown = lamps.command(bank, wiring, board, exercise.cell)
                body["blew"] = True
            body["answered"] = [address(place) for place in sorted(shown.levels) if shown.levels[place] == lamps.BRIGHT]
            faint = [address(place) for place in sorted(shown.levels) if shown.levels[place] == lamps.FAINT]
            if faint:
                body["faint"] = faint
        readings.append(body)
    return readings


def plan_of(readings: list[dict[str, Any]]) -> tuple[Exercise, ...]:
    """The exercises behind a readings file."""
    return tuple(
        Exercise(
            place_of(reading["cell"]) if "cell" in reading else None,
            tuple(place_of(cell) for cell in reading.get("held", [])),
        )
        for reading in readings
    )


def shows(reading: dict[str, Any]) -> tuple[frozenset[str], frozenset[str]]:
    """What a reading says: the places that answered, and those that were faint."""
    return frozenset(reading["answered"]), frozenset(reading.get("faint", ()))


def written(readings: list[dict[str, Any]]) -> str:
    """The text of a readings file."""
    return "".join(json.dumps(reading) + "\n" for reading in readings)


def visible(
    bank: Bank, faults: tuple[Fault, ...], board: Board, plan: tuple[Exercise, ...], together: list[dict[str, Any]]
) -> tuple[bool, ...]:
    """For each fault: whether taking out just this one would change the readings that they give together."""
    whole = [shows(reading) for reading in together]
    return tuple(
        [shows(reading) for reading in simulate(bank, faults[:i] + faults[i + 1 :], board, plan)] != whole
        for i in range(len(faults))
    )
