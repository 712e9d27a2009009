"""The main promise on the invented machine: four sorts of fault, each alone and all at once, a quarter untested.

Which cells go dead follows from the layout by three rules (a driver takes its line, a plug its lines, a break the cells
beyond it), so that the analyser is not asked to check itself.
"""

from __future__ import annotations

import random

import pytest

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import Diagnosis, Fault, FaultClass
from matrixcheck.layout.places import CellKey, LineKey
from matrixcheck.layout.reading import Mark, Reading
from tests.machines import saltmarsh_tram
from tests.samples import some_of

TRAM = saltmarsh_tram()
PLUG_LINES = [LineKey("lamps", "column", place) for place in range(5, 9)]
BROKEN, AFTER = LineKey("switches", "column", 8), 3


def cells(*lines: LineKey) -> set[CellKey]:
    return {cell.key for line in lines for cell in TRAM.matrix(line.matrix).cells_of(line)}


DEAD = {
    "open driver": cells(LineKey("switches", "column", 6)),
    "unplugged plug": cells(*PLUG_LINES),
    "break": {cell.key for cell in TRAM.matrix("switches").cells_of(BROKEN)[AFTER:]},
    "dead lamp 3": {CellKey("lamps", 3, 1)},
    "dead lamp 30": {CellKey("lamps", 6, 4)},
}


def is_it(name: str, fault: Fault) -> bool:
    match name:
        case "open driver":
            return (fault.fault, fault.part) == (FaultClass.OPEN, "Q6")
        case "unplugged plug":
            return (fault.fault, fault.part) == (FaultClass.UNPLUGGED, "X7")
        case "break":
            return (fault.fault, fault.lines, fault.after) == (FaultClass.BREAK, (BROKEN,), AFTER)
    return fault.fault is FaultClass.DEVICE_DEAD and set(fault.cells) == DEAD[name]


def marks(names: list[str], seed: int) -> list[Reading]:
    """Every cell's mark, a quarter left out at random, but neither the cells beside the break nor the dead lamps."""
    dead = set().union(*(DEAD[name] for name in names))
    chain = [cell.key for cell in TRAM.matrix("switches").cells_of(BROKEN)]
    needed = {*chain[AFTER - 1 : AFTER + 1], *DEAD["dead lamp 3"], *DEAD["dead lamp 30"]}
    every = [cell.key for matrix in TRAM.matrices for cell in matrix.fitted]
    spare = [key for key in every if key not in needed]
    untested = set(random.Random(seed).sample(spare, len(every) // 4))
    return [
        Reading(matrix=key.matrix, cell=key, mark=Mark.DEAD if key in dead else Mark.WORKING)
        for key in every
        if key not in untested
    ]


def best(diagnosis: Diagnosis) -> list[tuple[Fault, ...]]:
    return [diagnosis.suspect(name).members for name in diagnosis.explanations[0].suspects]


@pytest.mark.parametrize("seed", some_of(range(3), 1))
@pytest.mark.parametrize("names", [*([name] for name in DEAD), list(DEAD)], ids=[*DEAD, "all at once"])
def test_the_likeliest_explanation_is_what_was_planted_and_nothing_more(names: list[str], seed: int) -> None:
    found = best(diagnose(TRAM, marks(names, seed)))
    for name in names:
        assert any(is_it(name, member) for members in found for member in members), name
    assert len(found) == len(names)


@pytest.mark.parametrize("seed", range(3))
def test_a_machine_that_works_as_far_as_it_was_tested_raises_no_suspect(seed: int) -> None:
    assert best(diagnose(TRAM, marks([], seed))) == []


@pytest.mark.parametrize("count", [1, pytest.param(4, marks=pytest.mark.slow)])
def test_one_dead_lamp_and_one_answering_switch_get_an_answer_whichever_they_are(count: int) -> None:
    """A plug carries lines of both matrices: each is searched by itself, with what it shows in the other left out.
    Each of eight lamps with one or four of nine switches. A grounded column of other lamps may have taken the fuse."""
    switches = TRAM.matrix("switches").fitted[:9]
    for place, lamp in enumerate(TRAM.matrix("lamps").fitted[:8]):
        for switch in (switches[place:] + switches[:place])[:count]:
            dead = Reading(matrix="lamps", cell=lamp.key, mark=Mark.DEAD)
            answering = Reading(matrix="switches", cell=switch.key, answered=(switch.key,))
            (members,) = best(diagnose(TRAM, [dead, answering]))
            assert all(lamp.key in fault.cells or fault.fault is FaultClass.GROUNDED for fault in members)
