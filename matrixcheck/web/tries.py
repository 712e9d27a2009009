"""How often an address may try something."""

from __future__ import annotations

import time
from collections import OrderedDict
from collections.abc import Callable

MOST_ADDRESSES = 512


class Tries:
    """So many tries in so many seconds for each address, which come back one by one.

    Of more than 512 addresses the one that tried longest ago is forgotten.
    """

    def __init__(self, most: int, seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._most = most
        self._seconds = seconds
        self._clock = clock
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def allows(self, address: str) -> bool:
        """Return whether an address may try once more, and count that try."""
        now = self._clock()
        left, at = self._left.pop(address, (float(self._most), now))
        left = min(self._most, left + (now - at) * self._most / self._seconds)
        allowed = left >= 1
        self._left[address] = (left - 1 if allowed else left), now
        if len(self._left) > MOST_ADDRESSES:
            self._left.popitem(last=False)
        return allowed
