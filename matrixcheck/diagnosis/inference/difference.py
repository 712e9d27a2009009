"""Store an array of states as its difference from a healthy machine's: most faults change few places."""

from __future__ import annotations

from hashlib import blake2b
from typing import NamedTuple

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import Bools, Places, States


class Difference(NamedTuple):
    """Hold `states[n]` at the flat `places[n]`, in rising order, where an array differs from a reference."""

    places: Places
    states: States

    @property
    def size(self) -> int:
        """Return the bytes that it takes."""
        return self.places.nbytes + self.states.nbytes

    @property
    def digest(self) -> bytes:
        """Return a digest of 16 bytes: two differences share one by a chance of some 2**-64."""
        return blake2b(self.places.tobytes() + self.states.tobytes(), digest_size=16).digest()

    def equals(self, other: Difference) -> bool:
        """Return whether two differences from one reference are the same."""
        same = self is other or np.array_equal(self.places, other.places)
        return same and np.array_equal(self.states, other.states)

    def only(self, kept: Bools) -> Difference:
        """Return the part at the places where `kept[n]` is true."""
        if np.count_nonzero(kept) == len(kept):
            return self
        return Difference(self.places[kept], self.states[kept])

    def laid_upon(self, usual: States) -> States:
        """Return the array again, in the shape of the reference `usual`; not to be written to."""
        if not len(self.places):
            return usual
        found = usual.copy()
        found.ravel()[self.places] = self.states
        return found


def difference(states: States, usual: States) -> Difference:
    """Return where `states` differs from `usual`; both of one shape."""
    places = (states != usual).ravel().nonzero()[0].astype(np.int32)
    return Difference(places, states.ravel()[places])
