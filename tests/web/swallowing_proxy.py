"""A way to a server that can fall silent without a word, as a network does when a phone goes out of reach.

A browser takes it as a SOCKS proxy (RFC 1928: version 5, no authentication, CONNECT), so that the names and origins it
sends stay what they are.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Coroutine
from contextlib import suppress
from ipaddress import IPv4Address
from typing import Any

CONNECT, IPV4, NAME = 1, 1, 3
DONE = bytes([5, 0, 0, IPV4, 0, 0, 0, 0, 0, 0])
PIECE = 65536
HERE = "127.0.0.1"


class SwallowingProxy:
    """Passes bytes both ways until `fall_silent`; then it takes them in and passes none, and closes nothing.

    After `come_back` new connections pass again. What was taken in meanwhile is delivered `late`, as where the network
    sends it again, or never, as where it has forgotten the connection.
    """

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._open = asyncio.Event()
        self._open.set()
        self._lost: set[asyncio.Task[None]] = set()
        self._passing: set[asyncio.Task[None]] = set()
        self.swallowed = 0
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._server = self._run(asyncio.start_server(self._serve, HERE, 0))
        self.address = f"socks5://127.0.0.1:{self._server.sockets[0].getsockname()[1]}"

    def fall_silent(self) -> None:
        """Pass nothing more, without a word to either side."""
        self._loop.call_soon_threadsafe(self._open.clear)

    def come_back(self, *, late: bool) -> None:
        """Pass again: what was taken in meanwhile too, or only what comes over new connections."""
        self._run(self._come_back(late))

    def end(self) -> None:
        """Close everything."""
        self._run(self._end())
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def _run(self, work: Coroutine[Any, Any, Any]) -> Any:
        return asyncio.run_coroutine_threadsafe(work, self._loop).result()

    async def _come_back(self, late: bool) -> None:
        if not late:
            self._lost |= self._passing
        self._open.set()

    async def _end(self) -> None:
        self._server.close()
        for passing in self._passing:
            passing.cancel()
        await asyncio.gather(*self._passing, return_exceptions=True)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        task = asyncio.current_task()
        assert task is not None
        self._passing.add(task)
        try:
            with suppress(ConnectionError, asyncio.IncompleteReadError, asyncio.CancelledError):
                host, port = await asked_for(reader, writer)
                if host != HERE:
                    # A browser looks for its maker now and then; nothing here leaves this machine.
                    return
                writer.write(DONE)
                server_reader, server_writer = await asyncio.open_connection(host, port)
                try:
                    await asyncio.gather(
                        self._pass_on(task, reader, server_writer), self._pass_on(task, server_reader, writer)
                    )
                finally:
                    server_writer.close()
        finally:
            self._passing.discard(task)
            writer.close()

    async def _pass_on(
        self, task: asyncio.Task[None], source: asyncio.StreamReader, sink: asyncio.StreamWriter
    ) -> None:
        while piece := await source.read(PIECE):
            if not self._open.is_set():
                self.swallowed += len(piece)
                await self._open.wait()
            if task in self._lost:
                # Forgotten: nothing comes of it any more, and nobody is told.
                await asyncio.Event().wait()
            sink.write(piece)
            await sink.drain()
        if not self._open.is_set():
            # That one side has gone doesn't get through either.
            await self._open.wait()
        sink.close()


async def asked_for(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> tuple[str, int]:
    """Greet a client, and give the host and port that it wants to be connected to."""
    _version, methods = await reader.readexactly(2)
    await reader.readexactly(methods)
    writer.write(bytes([5, 0]))
    _version, command, _reserved, kind = await reader.readexactly(4)
    assert command == CONNECT
    assert kind in (IPV4, NAME)
    if kind == IPV4:
        host = str(IPv4Address(await reader.readexactly(4)))
    else:
        host = (await reader.readexactly((await reader.readexactly(1))[0])).decode()
    port = int.from_bytes(await reader.readexactly(2))
    return host, port
