"""Fits that were worked out before, within a bound of bytes: what was not asked for longest is forgotten first.

Nothing depends on what is kept but the work: a fit that was forgotten is worked out again, and is the same.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable

from matrixcheck.diagnosis.likelihood import Fit

MOST_BYTES = 2**27
"""128 MB: thousands of fits of the largest matrix where each changes little, and all that a usual machine ever has."""


class FitStore:
    """Fits by key, together no larger than `most_bytes`."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self.most_bytes = most_bytes
        self.held_bytes = 0
        self._fits: OrderedDict[Hashable, Fit] = OrderedDict()

    def __len__(self) -> int:
        return len(self._fits)

    def get(self, key: Hashable) -> Fit | None:
        """The fit of that key, None where it was never worked out or is forgotten."""
        fit = self._fits.get(key)
        if fit is not None:
            self._fits.move_to_end(key)
        return fit

    def put(self, key: Hashable, fit: Fit) -> None:
        """Keep a fit, and forget as many others as that takes. One that is larger than the bound is not kept."""
        known = self._fits.pop(key, None)
        if known is not None:
            self.held_bytes -= known.size
        if fit.size > self.most_bytes:
            return
        self._fits[key] = fit
        self.held_bytes += fit.size
        while self.held_bytes > self.most_bytes:
            self.held_bytes -= self._fits.popitem(last=False)[1].size
