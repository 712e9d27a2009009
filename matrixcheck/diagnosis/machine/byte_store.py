"""A cache bounded in bytes: what was not asked for longest is dropped first.

Nothing depends on what is kept but the work: what was dropped is worked out again, and is the same.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from typing import Generic, TypeVar

V = TypeVar("V")


class ByteStore(Generic[V]):
    """Values by key, each with its size in bytes, together no larger than `most_bytes`."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self.held_bytes = 0
        self._values: OrderedDict[Hashable, V] = OrderedDict()
        self._sizes: dict[Hashable, int] = {}

    def __len__(self) -> int:
        return len(self._values)

    def get(self, key: Hashable) -> V | None:
        """Return the value of that key, None where it was never put there or was dropped."""
        value = self._values.get(key)
        if value is not None:
            self._values.move_to_end(key)
        return value

    def put(self, key: Hashable, value: V, size: int) -> None:
        """Keep a value, and drop as many others as that takes; one that is larger than the bound is not kept."""
        if key in self._sizes:
            self._drop(key)
        if size > self.most_bytes:
            return
        self._values[key], self._sizes[key] = value, size
        self.held_bytes += size
        while self.held_bytes > self.most_bytes:
            self._drop(next(iter(self._values)))

    def _drop(self, key: Hashable) -> None:
        del self._values[key]
        self.held_bytes -= self._sizes.pop(key)
