"""The open connections, in two pools: those that may come in, and all others, which have little room and little time.

Nobody can be told from a stranger before the first request is there. So a full pool of strangers takes a new connection
all the same, and closes an old one for it: whoever has the cookie shows it at once and is a stranger no longer.
"""

from __future__ import annotations

import asyncio
import logging
from collections import Counter
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Protocol

_log = logging.getLogger(__name__)


class Watched(Protocol):
    """A connection, set up or not."""

    def get_extra_info(self, name: str, default: Any = None) -> Any:
        """Return what is known of it: `peername` is its address and port."""

    def abort(self) -> None:
        """Close it at once."""


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


@dataclass
class _LetIn:
    """A connection that may come in: whose it is, and the requests under way."""

    holder: int
    requests: int = 0


class Connections:
    """The connections of one server."""

    def __init__(self, bounds: Bounds) -> None:
        self._bounds = bounds
        self._strangers: dict[Watched, _Stranger] = {}
        # The one that has been idle longest stands first.
        self._let_in: dict[Watched, _LetIn] = {}

    def opened(self, connection: Watched) -> None:
        """Take a new connection; where there is no room, the oldest of the address that has most goes for it."""
        if len(self._strangers) >= self._bounds.strangers:
            crowd = Counter(map(_address, self._strangers))
            oldest = max(self._strangers, key=lambda each: crowd[_address(each)])
            _log.warning("%s opens many connections and says nothing: closed the oldest", _address(oldest))
            self._drop(oldest)
        self._strangers[connection] = self._stranger(connection, self._bounds.header_seconds)

    def set_up(self, arriving: Watched, connection: Watched) -> None:
        """Go on with the same connection by another name; its time goes on as well. One that was dropped is closed."""
        before = self._strangers.pop(arriving, None)
        if before is None:
            connection.abort()
            return
        before.limit.cancel()
        left = before.limit.when() - asyncio.get_running_loop().time()
        self._strangers[connection] = self._stranger(connection, left)

    def takes(self, connection: Watched, size: int) -> bool:
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
    def serving(self, connection: Watched | None, holder: int) -> Iterator[bool]:
        """Let a connection of `holder` in, and keep it open while its request is answered. None: it has gone.

        False where all others are busy. It stays a stranger, who can be told so.
        """
        if connection is None or (connection not in self._strangers and connection not in self._let_in):
            yield True
            return
        if not self._admit(connection, holder):
            yield False
            return
        self._let_in[connection].requests += 1
        try:
            yield True
        finally:
            if connection in self._let_in:
                served = self._let_in[connection] = self._let_in.pop(connection)
                served.requests -= 1

    def closed(self, connection: Watched) -> None:
        """Forget a connection that has gone."""
        stranger = self._strangers.pop(connection, None)
        if stranger is not None:
            stranger.limit.cancel()
        self._let_in.pop(connection, None)

    def keep_only(self, holders: Collection[int]) -> None:
        """Close every connection of anybody else, whatever is under way there. Strangers are nobody's."""
        for connection in [each for each, served in self._let_in.items() if served.holder not in holders]:
            self._drop(connection)

    def holders(self) -> frozenset[int]:
        """Return whose connections are answered now."""
        return frozenset(served.holder for served in self._let_in.values() if served.requests)

    def drop_strangers(self) -> None:
        """Close the connections of all strangers."""
        for stranger in list(self._strangers):
            self._drop(stranger)

    def _stranger(self, connection: Watched, seconds: float) -> _Stranger:
        return _Stranger(asyncio.get_running_loop().call_later(seconds, self._drop, connection))

    def _admit(self, connection: Watched, holder: int) -> bool:
        """Let a stranger in, for which the one that has been idle longest may have to go; False where all are busy."""
        if connection in self._let_in:
            self._let_in[connection].holder = holder
            return True
        if len(self._let_in) >= self._bounds.let_in:
            idle = next((each for each, served in self._let_in.items() if not served.requests), None)
            if idle is None:
                return False
            self._drop(idle)
        self._strangers.pop(connection).limit.cancel()
        self._let_in[connection] = _LetIn(holder)
        return True

    def _drop(self, connection: Watched) -> None:
        self.closed(connection)
        connection.abort()


def _address(connection: Watched) -> str:
    peer: tuple[str, int] | None = connection.get_extra_info("peername")
    return peer[0] if peer else "somebody"
