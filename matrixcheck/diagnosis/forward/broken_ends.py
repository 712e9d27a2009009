"""The far ends of broken wires: lost to their line, they still join the cells that hang on them.

Where current can come round to a stub, it is a wire like any other: stubs count on from the wires of their side.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from matrixcheck.diagnosis.forward.fault_effects import Condition, Place
from matrixcheck.diagnosis.machine.matrix_frame import Floats


def moved(condition: Condition, shape: Place) -> dict[Place, Place]:
    """Return for each place that hangs on a stub the sensed and the driven wire that it joins.

    Of nested stubs it hangs on the smallest.
    """
    senses, drives = shape
    found: dict[Place, Place] = {}
    for number, stub in sorted(enumerate(condition.stubs), key=lambda each: -len(each[1].places)):
        for place in stub.places:
            sensed, driven = found.get(place, place)
            found[place] = (sensed, drives + number) if stub.driven else (senses + number, driven)
    return found


def spread(array: Floats, more: int, moves: Mapping[Place, Place], empty: float = 0.0) -> Floats:
    """Return a (sensed, driven) array with so many more wires a side, values moved to where their places hang."""
    senses, drives = array.shape
    found = np.full((senses + more, drives + more), empty)
    found[:senses, :drives] = array
    for place, there in moves.items():
        found[place] = empty
        found[there] = array[place]
    return found
