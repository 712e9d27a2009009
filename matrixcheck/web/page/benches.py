"""A bench for each phone, used in worker threads: a slow disk keeps nobody else waiting."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, TypeVar

from matrixcheck.bench import Bench
from matrixcheck.record.clients import page

if TYPE_CHECKING:
    from matrixcheck.diagnosis.machine.priors import Rates

_Found = TypeVar("_Found")


class Benches:
    """The benches of one book by client. At most `most` stay open: the one used longest ago is closed for a new one."""

    def __init__(self, book: Path, *, rates: Rates | None = None, most: int = 8) -> None:
        self._open_bench = partial(Bench, book, rates=rates)
        self._most = most
        self._lock = Lock()
        self._open: OrderedDict[str, Bench] = OrderedDict()
        self._in_use: dict[str, int] = {}

    async def use(self, client: str, task: Callable[[Bench], _Found]) -> _Found:
        """Do something with the bench of a client, in a worker thread. Raises what the task raises."""
        return await asyncio.to_thread(self.use_now, client, task)

    def use_now(self, client: str, task: Callable[[Bench], _Found]) -> _Found:
        """Do something with the bench of a client, in this thread."""
        bench = self._taken(client)
        try:
            return task(bench)
        finally:
            self._given_back(client)

    def watch(self) -> Bench:
        """Return a bench that only looks, for as long as the caller wants it."""
        return self._open_bench()

    def close(self) -> None:
        """Close every bench."""
        with self._lock:
            for bench in self._open.values():
                bench.close()
            self._open.clear()

    def _taken(self, client: str) -> Bench:
        with self._lock:
            if client not in self._open:
                self._open[client] = self._fresh(client)
            self._open.move_to_end(client)
            self._in_use[client] = self._in_use.get(client, 0) + 1
            self._close_oldest()
            return self._open[client]

    def _fresh(self, client: str) -> Bench:
        bench = self._open_bench(client=page(client))
        bench.sign_as_before()
        return bench

    def _given_back(self, client: str) -> None:
        with self._lock:
            self._in_use[client] -= 1
            if not self._in_use[client]:
                del self._in_use[client]
            self._close_oldest()

    def _close_oldest(self) -> None:
        idle = [client for client in self._open if client not in self._in_use]
        for client in idle[: max(len(self._open) - self._most, 0)]:
            self._open.pop(client).close()
