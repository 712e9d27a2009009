"""Answering at a listening socket: each connection is watched from its first byte until it has gone."""

from __future__ import annotations

import asyncio
import logging
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from aiohttp import web
from aiohttp.web_request import BaseRequest

from matrixcheck.web.connections import Bounds, Connections

# A connection shows its request some turns of the loop after it was taken. Were many taken in one turn, a flood would
# push it out of the strangers' pool before. The kernel keeps the others waiting.
_TAKEN_IN_ONE_TURN = 8
_WAITING = 128

_log = logging.getLogger(__name__)


class Connection(web.RequestHandler):
    """aiohttp's side of one connection, which says what becomes of it."""

    def __init__(self, server: web.Server, connections: Connections, bounds: Bounds) -> None:
        super().__init__(
            server,
            loop=asyncio.get_running_loop(),
            keepalive_timeout=bounds.header_seconds,
            # No request here has a body, so none is waited for.
            lingering_time=0,
        )
        self._connections = connections
        self._watched: asyncio.Transport | None = None

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Begin, as a stranger."""
        super().connection_made(transport)
        assert isinstance(transport, asyncio.Transport)
        self._watched = transport
        self._connections.opened(transport)

    def connection_lost(self, exc: BaseException | None) -> None:
        """End, whoever closed it."""
        if self._watched is not None:
            self._connections.closed(self._watched)
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on, unless it is too much for a stranger."""
        if self._watched is None or self._connections.takes(self._watched, len(data)):
            super().data_received(data)

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


@asynccontextmanager
async def answering(
    application: web.Application, listener: socket.socket, connections: Connections, bounds: Bounds, patience: float
) -> AsyncIterator[None]:
    """Answer at a socket until left; answers under way then have `patience` seconds to end."""
    runner = web.AppRunner(application, shutdown_timeout=patience)
    await runner.setup()
    server = runner.server
    assert server is not None
    taking = await asyncio.get_running_loop().create_server(
        lambda: Connection(server, connections, bounds), sock=listener, backlog=_TAKEN_IN_ONE_TURN
    )
    listener.listen(_WAITING)
    try:
        yield
    finally:
        taking.close()
        await runner.cleanup()
