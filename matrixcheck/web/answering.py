"""Answering at a listening socket: each connection is watched from its first byte until it has gone."""

from __future__ import annotations

import asyncio
import logging
import re
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from ssl import SSLContext
from typing import Any

from aiohttp import web
from aiohttp.web_request import BaseRequest

from matrixcheck.layout.limits import LARGEST_PHOTO
from matrixcheck.web.connections import Bounds, Connections, Watched

_WAITING = 128
_MUTE_MILLISECONDS = 15_000
_END_OF_HEADER = b"\r\n\r\n"
_LENGTH = re.compile(rb"\r\ncontent-length: *([0-9]{1,7})", re.IGNORECASE)

_log = logging.getLogger(__name__)


def give_up_when_mute(taken: socket.socket) -> None:
    """Have the kernel close a connection whose other end takes in nothing for a while, where it can do that.

    Otherwise a phone that has left the network would keep its place for a quarter of an hour.
    """
    option = getattr(socket, "TCP_USER_TIMEOUT", None)
    if option is not None:
        with suppress(OSError):
            taken.setsockopt(socket.IPPROTO_TCP, option, _MUTE_MILLISECONDS)


class Arriving:
    """A connection that was taken and isn't set up yet: under https it has to agree on a key first."""

    def __init__(self, taken: socket.socket) -> None:
        self._peer: object = None
        with suppress(OSError):
            self._peer = taken.getpeername()
        self.setting_up: asyncio.Task[None] | None = None

    def get_extra_info(self, name: str, default: Any = None) -> Any:
        """Return who is at the other end, as a transport would."""
        return self._peer if name == "peername" else default

    def abort(self) -> None:
        """Give it up."""
        if self.setting_up is not None:
            self.setting_up.cancel()


class Connection(web.RequestHandler):
    """aiohttp's side of one connection, which says what becomes of it."""

    def __init__(self, server: web.Server, connections: Connections, bounds: Bounds, arriving: Arriving) -> None:
        super().__init__(
            server,
            loop=asyncio.get_running_loop(),
            keepalive_timeout=bounds.header_seconds,
            # The rest of a body that was refused is thrown away: closed before it is there, the connection would be
            # reset, and the refusal lost with it.
            lingering_time=bounds.header_seconds,
        )
        self._connections = connections
        self._arriving = arriving
        self._watched: Watched | None = None
        self._body_left: int | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin, as a stranger."""
        super().connection_made(transport)
        assert isinstance(transport, asyncio.Transport)
        self._watched = transport
        self._connections.set_up(self._arriving, transport)

    def connection_lost(self, exc: BaseException | None) -> None:
        """End, whoever closed it."""
        if self._watched is not None:
            self._connections.closed(self._watched)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on, unless it is too much for a stranger.

        The body of a first request comes on the heels of its header, before it is known who sends it: so much of it
        as its header announces is not counted.
        """
        counted = len(data) - self._body_in(data)
        if self._watched is None or self._connections.takes(self._watched, counted):
            super().data_received(data)

    def _body_in(self, data: bytes) -> int:
        """Return how many bytes of what came belong to the body of the first request."""
        behind = len(data)
        if self._body_left is None:
            end = data.find(_END_OF_HEADER)
            if end < 0:
                return 0
            behind -= end + len(_END_OF_HEADER)
            announced = _LENGTH.search(data, 0, end)
            self._body_left = min(int(announced[1]), LARGEST_PHOTO) if announced else 0
        body = min(behind, self._body_left)
        self._body_left -= body
        return body

    def handle_error(
        self, request: BaseRequest, status: int = 500, exc: BaseException | None = None, message: str | None = None
    ) -> web.StreamResponse:
        """Answer a malformed request with its status alone; its bytes go neither back nor into the log."""
        if status != 400:
            return super().handle_error(request, status, exc, message)
        _log.warning("refused a malformed request from %s", request.remote)
        answer = web.Response(status=status, headers={"Server": "matrixcheck"})
        answer.force_close()
        return answer


class _Taker:
    """Takes connections from a listening socket, and sets each up by itself."""

    def __init__(self, server: web.Server, connections: Connections, bounds: Bounds, tls: SSLContext | None) -> None:
        self._server = server
        self._connections = connections
        self._bounds = bounds
        self._tls = tls

    async def take(self, listener: socket.socket) -> None:
        """Take connections until cancelled."""
        loop = asyncio.get_running_loop()
        while True:
            try:
                taken, _ = await loop.sock_accept(listener)
            except OSError as error:
                _log.warning("can't take a connection: %s", error.strerror)
                await asyncio.sleep(0.1)
                continue
            give_up_when_mute(taken)
            arriving = Arriving(taken)
            arriving.setting_up = asyncio.create_task(self._set_up(taken, arriving))
            self._connections.opened(arriving)
            # A connection shows its request some turns of the loop after it was taken. Were many taken in one turn, a
            # flood would push it out of the strangers' pool before. The kernel keeps the others waiting.
            await asyncio.sleep(0)

    async def _set_up(self, taken: socket.socket, arriving: Arriving) -> None:
        limit = self._bounds.header_seconds if self._tls else None
        try:
            await asyncio.get_running_loop().connect_accepted_socket(
                lambda: Connection(self._server, self._connections, self._bounds, arriving), taken,
                ssl=self._tls, ssl_handshake_timeout=limit, ssl_shutdown_timeout=limit,
            )  # fmt: skip
        except OSError:
            # It has gone, or speaks no https. Whoever it is sees that.
            return
        finally:
            self._connections.closed(arriving)


@asynccontextmanager
async def answering(
    application: web.Application,
    listener: socket.socket,
    connections: Connections,
    bounds: Bounds,
    *,
    patience: float,
    tls: SSLContext | None = None,
) -> AsyncIterator[None]:
    """Answer at a socket until left, by https where there is a context for it.

    Answers under way then have `patience` seconds to end.
    """
    runner = web.AppRunner(application, shutdown_timeout=patience)
    await runner.setup()
    server = runner.server
    assert server is not None
    listener.setblocking(False)
    listener.listen(_WAITING)
    taking = asyncio.create_task(_Taker(server, connections, bounds, tls).take(listener))
    try:
        yield
    finally:
        taking.cancel()
        with suppress(asyncio.CancelledError):
            await taking
        connections.drop_strangers()
        await runner.cleanup()
