"""What an array of states holds besides those of a healthy machine: most faults change few places of few readings."""

from __future__ import annotations

from hashlib import blake2b
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import Bools, Places, States


class Difference(NamedTuple):
    """`states[n]` stands at the flat `places[n]`, in rising order, where the array that it is held against has
    another."""

    places: Places
    states: States

    @property
    def size(self) -> int:
        """Bytes that it takes."""
        return self.places.nbytes + self.states.nbytes

    @property
    def digest(self) -> bytes:
        """A short key, the same for the same difference only (but for one chance in 2**64)."""
        return blake2b(self.places.tobytes() + self.states.tobytes(), digest_size=16).digest()

    def only(self, kept: Bools) -> Difference:
        """Part of it: `kept[n]` says whether place n is."""
        return Difference(self.places[kept], self.states[kept])

    def laid_upon(self, usual: States) -> States:
        """The array again, from that which it was held against; not to be written to."""
        if not len(self.places):
            return usual
        found = usual.copy()
        found.ravel()[self.places] = self.states
        return found


def difference(states: States, usual: States) -> Difference:
    """What `states` holds that `usual` doesn't; both of one shape."""
    places = np.flatnonzero(states != usual).astype(np.int32)
    return Difference(places, states.ravel()[places])
