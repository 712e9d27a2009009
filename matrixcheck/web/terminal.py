"""The terminal in a browser: its page, and a socket with the screens behind it, each with a process of its own."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from urllib.parse import urlencode

from aiohttp import WSMessage, web

from matrixcheck.errors import MatrixCheckError, UsageError
from matrixcheck.record.clients import page_key
from matrixcheck.web.files import refusal_page, screens_page
from matrixcheck.web.place import Place
from matrixcheck.web.screens import Page, Screens

_PLACE = frozenset({"job", "matrix"})
_SCREENS = _PLACE | {"page", "width", "height"}


class Closed(IntEnum):
    """Why a page's socket was closed, as WebSocket close codes; screens.js has the words for each."""

    BY_USER = 4000
    STOPPED = 4001
    FULL = 4002
    SERVER_ENDS = 4003


@dataclass(frozen=True)
class Limits:
    """What one server bears: open pages, bytes in one message, and seconds a process gets at each step of stopping.

    A page that says nothing for `heartbeat` seconds is asked, and closed where no answer comes in half that time.
    """

    pages: int = 8
    message_bytes: int = 64 * 1024
    patience: float = 3.0
    heartbeat: float = 6.0


class Terminal:
    """The terminal in a browser, over one bench book.

    `check` raises a MatrixCheckError for a place that isn't in the book; `command` gives the command that runs the
    screens at a place, for the page of a key.
    """

    def __init__(
        self, check: Callable[[Place], None], command: Callable[[Place, str], Sequence[str]], limits: Limits
    ) -> None:
        self._check = check
        self._command = command
        self._limits = limits
        self._open: dict[web.WebSocketResponse, asyncio.Task[None]] = {}

    def routes(self) -> list[web.RouteDef]:
        """Return what can be asked for here."""
        return [web.get("/terminal", self._page), web.get("/screens", self._screens)]

    async def close(self) -> None:
        """Close every page and end every process."""
        running = list(self._open.values())
        await asyncio.gather(*(socket.close(code=Closed.SERVER_ENDS) for socket in self._open))
        await asyncio.gather(*running, return_exceptions=True)

    async def _page(self, request: web.Request) -> web.StreamResponse:
        try:
            self._check(place_asked_for(request, _PLACE))
        except MatrixCheckError as error:
            return _refused(error)
        return web.Response(text=screens_page(), content_type="text/html")

    async def _screens(self, request: web.Request) -> web.StreamResponse:
        try:
            place = place_asked_for(request, _SCREENS)
            self._check(place)
        except MatrixCheckError as error:
            raise web.HTTPNotFound(text=f"{error}\n") from error
        limits = self._limits
        socket = web.WebSocketResponse(
            heartbeat=limits.heartbeat, max_msg_size=limits.message_bytes, timeout=limits.patience
        )
        await socket.prepare(request)
        if len(self._open) >= limits.pages:
            await socket.close(code=Closed.FULL)
            return socket
        size = _number(request, "width", 80), _number(request, "height", 24)
        command = self._command(place, page_key(request.query.get("page", "")))
        # A task of its own, since the web server may drop a request whose page has gone before its process has ended.
        running = self._open[socket] = asyncio.create_task(self._run_screens(socket, command, *size))
        running.add_done_callback(lambda _running: self._open.pop(socket))
        await asyncio.shield(running)
        return socket

    async def _run_screens(
        self, socket: web.WebSocketResponse, command: Sequence[str], columns: int, rows: int
    ) -> None:
        """Run the screens for one page until either of the two goes; then the other goes too."""
        screens = Screens(command, Page(socket.send_bytes, socket.send_str), self._limits.patience)
        await screens.start(columns, rows)
        closing = asyncio.create_task(_close_after(screens, socket))
        try:
            await self._hear(socket, screens)
        finally:
            await screens.stop()
            await closing

    async def _hear(self, socket: web.WebSocketResponse, screens: Screens) -> None:
        """Pass on what the page says, until it goes, is too slow to be taken in, or isn't what our page says."""
        async for message in socket:
            try:
                async with asyncio.timeout(self._limits.patience):
                    await _pass_on(message, socket, screens)
            except (ValueError, TypeError, LookupError, RecursionError, TimeoutError):
                return


def address_of(place: Place) -> str:
    """Return the address of a place on this server, from the root on."""
    query = urlencode({name: value for name, value in (("job", place.job), ("matrix", place.matrix)) if value})
    return f"/?{query}" if query else "/"


def place_asked_for(request: web.Request, known: frozenset[str]) -> Place:
    """Return the place that a request's query names. Raises UsageError when it says anything else, or says it twice."""
    query = request.query
    if len(set(query)) != len(query) or not set(query) <= known:
        raise UsageError("this address asks for something that isn't here", "job and matrix are all it may name")
    return Place(query.get("job") or None, query.get("matrix") or None)


async def _close_after(screens: Screens, socket: web.WebSocketResponse) -> None:
    await screens.ended()
    await socket.close(code=Closed.BY_USER if screens.closed_by_user else Closed.STOPPED)


async def _pass_on(message: WSMessage, socket: web.WebSocketResponse, screens: Screens) -> None:
    """Pass on one message of the page's terminal script: keys, a size, the focus, or a sign of life that it asks for.

    Raises ValueError, TypeError or LookupError where it is none of these.
    """
    kind, *content = message.json()
    match kind, content:
        case "stdin", [str(keys)]:
            await screens.send_bytes(keys.encode(errors="replace"))
        case "resize", [{"width": int(columns), "height": int(rows)}]:
            await screens.set_terminal_size(columns, rows)
        case "focus", []:
            await screens.focus()
        case "blur", []:
            await screens.blur()
        case "ping", [str(stamp)]:
            await socket.send_json(["pong", stamp])
        case _:
            raise ValueError(kind)


def _number(request: web.Request, name: str, otherwise: int) -> int:
    text = request.query.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else otherwise


def _refused(error: MatrixCheckError) -> web.Response:
    return web.Response(text=refusal_page(str(error), let_in=True), content_type="text/html", status=404)
