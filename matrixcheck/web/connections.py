"""The open connections, in two pools: those that may come in, and all others, which have little room and little time.

Nobody can be told from a stranger before the first request is there. So a full pool of strangers takes a new connection
all the same, and closes an old one for it: whoever has the cookie shows it at once and is a stranger no longer.
"""

from __future__ import annotations

import asyncio
import logging
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Bounds:
    """What connections may take: how many of each pool, and seconds and bytes until a request that may come in."""

    strangers: int = 64
    let_in: int = 64
    header_seconds: float = 5.0
    header_bytes: int = 16 * 1024


@dataclass
class _Stranger:
    """A connection without a request that may come in: its time limit, and the bytes that it has sent."""

    limit: asyncio.TimerHandle
    sent: int = 0


class Connections:
    """The connections of one server."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._strangers: dict[asyncio.Transport, _Stranger] = {}
        # Requests under way, by connection; the one that has been idle longest stands first.
        self._let_in: dict[asyncio.Transport, int] = {}

    def opened(self, connection: asyncio.Transport) -> None:
        """Take a new connection; where there is no room, the oldest of the address that has most goes for it."""
        if len(self._strangers) >= self._bounds.strangers:
            crowd = Counter(map(_address, self._strangers))
            oldest = max(self._strangers, key=lambda each: crowd[_address(each)])
            _log.warning("%s opens many connections and says nothing: closed the oldest", _address(oldest))
            self._drop(oldest)
        limit = asyncio.get_running_loop().call_later(self._bounds.header_seconds, self._drop, connection)
        self._strangers[connection] = _Stranger(limit)

    def takes(self, connection: asyncio.Transport, size: int) -> bool:
        """Return whether a connection may send this many bytes more; one that may not is closed."""
        stranger = self._strangers.get(connection)
        if stranger is None:
            return True
        stranger.sent += size
        if stranger.sent > self._bounds.header_bytes:
            self._drop(connection)
            return False
        return True

    @contextmanager
    def serving(self, connection: asyncio.Transport | None) -> Iterator[None]:
        """Let a connection in, and keep it open while its request is answered. None: it has gone already."""
        if connection is None or not self._admit(connection):
            yield
            return
        self._let_in[connection] += 1
        try:
            yield
        finally:
            if connection in self._let_in:
                self._let_in[connection] = self._let_in.pop(connection) - 1

    def closed(self, connection: asyncio.Transport) -> None:
        """Forget a connection that has gone."""
        stranger = self._strangers.pop(connection, None)
        if stranger is not None:
            stranger.limit.cancel()
        self._let_in.pop(connection, None)

    def _admit(self, connection: asyncio.Transport) -> bool:
        """Let a stranger in, for which the one that has been idle longest may have to go; False where all are busy."""
        if connection in self._let_in:
            return True
        if connection not in self._strangers:
            return False
        if len(self._let_in) >= self._bounds.let_in:
            idle = next((each for each, requests in self._let_in.items() if not requests), None)
            self._drop(idle or connection)
            if idle is None:
                return False
        self._strangers.pop(connection).limit.cancel()
        self._let_in[connection] = 0
        return True

    def _drop(self, connection: asyncio.Transport) -> None:
        self.closed(connection)
        connection.abort()


def _address(connection: asyncio.Transport) -> str:
    peer: tuple[str, int] | None = connection.get_extra_info("peername")
    return peer[0] if peer else "somebody"
