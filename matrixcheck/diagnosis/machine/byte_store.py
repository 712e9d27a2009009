"""A cache bounded in bytes: what was not asked for longest is dropped first.

Nothing depends on what is kept but the work: what was dropped is worked out again, and is the same.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable
from typing import Generic, NamedTuple, TypeVar

V = TypeVar("V")


class _Held(NamedTuple, Generic[V]):
    value: V
    size: int


class ByteStore(Generic[V]):
    """Values by key, each with its size in bytes, together no larger than `most_bytes`."""

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self.held_bytes = 0
        self._held: OrderedDict[Hashable, _Held[V]] = OrderedDict()

    def __len__(self) -> int:
        return len(self._held)

    def get(self, key: Hashable) -> V | None:
        """Return the value of that key, None where it was never put there or was dropped."""
        held = self._held.get(key)
        if held is None:
            return None
        self._held.move_to_end(key)
        return held.value

    def put(self, key: Hashable, value: V, size: int) -> None:
        """Keep a value, and drop as many others as that takes; one that is larger than the bound is not kept."""
        known = self._held.pop(key, None)
        if known is not None:
            self.held_bytes -= known.size
        if size > self.most_bytes:
            return
        self._held[key] = _Held(value, size)
        self.held_bytes += size
        while self.held_bytes > self.most_bytes:
            self.held_bytes -= self._held.popitem(last=False)[1].size
