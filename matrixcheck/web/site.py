"""The web server: a page, the few files it needs, and a socket with the screens behind it; all behind the door."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass
from enum import IntEnum
from urllib.parse import urlencode

from aiohttp import WSMessage, web

from matrixcheck.errors import MatrixCheckError, UsageError
from matrixcheck.record.clients import page_key
from matrixcheck.web.access import Door
from matrixcheck.web.connections import Connections
from matrixcheck.web.files import entrance_page, known_files, refusal_page, screens_page
from matrixcheck.web.screens import Page, Place, Screens

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_QUERY = {"/": {"job", "matrix"}, "/screens": {"job", "matrix", "page", "width", "height"}}


class Closed(IntEnum):
    """Why a page's socket was closed, as WebSocket close codes; page.js has the words for each."""

    BY_USER = 4000
    STOPPED = 4001
    FULL = 4002
    SERVER_ENDS = 4003


@dataclass(frozen=True)
class Limits:
    """What one server bears: open pages, bytes in one message, and seconds a process gets at each step of stopping."""

    pages: int = 8
    message_bytes: int = 64 * 1024
    patience: float = 3.0


class Site:
    """The pages over one bench book.

    `check` raises a MatrixCheckError for a place that isn't in the book; `command` gives the command that runs the
    screens at a place, for the page of a key; `home` is where somebody who has just come in with the token goes;
    `connections` learns who may come in.
    """

    def __init__(
        self,
        door: Door,
        check: Callable[[Place], None],
        command: Callable[[Place, str], Sequence[str]],
        home: Place,
        limits: Limits,
        *,
        connections: Connections,
    ) -> None:
        self._door = door
        self._check = check
        self._command = command
        self._home = home
        self._limits = limits
        self._connections = connections
        self._files = known_files()
        self._open: dict[web.WebSocketResponse, asyncio.Task[None]] = {}

    def application(self) -> web.Application:
        """Return the aiohttp application; shut down, it closes every page and ends every process."""
        app = web.Application(middlewares=[self._guard])
        app.router.add_get("/", self._screens_page)
        app.router.add_get("/in/{token}", self._entrance)
        app.router.add_get("/alive", self._alive)
        app.router.add_get("/files/{name}", self._file)
        app.router.add_get("/screens", self._screens)
        app.on_response_prepare.append(self._harden)
        app.on_shutdown.append(self._close_all)
        return app

    @web.middleware
    async def _guard(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Answer who may come in; anybody else gets one answer, and the connection closes behind it."""
        refusal = self._refusal(request)
        if refusal is None and self._door.knows(request.cookies.get(self._door.cookie)):
            with self._connections.serving(request.transport):
                return await handler(request)
        try:
            if refusal is None and request.path.startswith("/in/"):
                answer = await handler(request)
            else:
                answer = refusal or _refused("Open the address that the computer shows, or scan its code.")
        except web.HTTPException as error:
            error.force_close()
            raise
        answer.force_close()
        return answer

    def _refusal(self, request: web.Request) -> web.Response | None:
        """Give the answer to a request for another server, or from another server's page; None where it is neither."""
        headers, door = request.headers, self._door
        if not door.answers_to(headers.getall("Host", [])):
            return web.Response(text="Refused: this server doesn't go by that name.\n", status=403)
        if not door.asked_from_here(headers.getall("Origin", []), request.host, required=request.path == "/screens"):
            return web.Response(text="Refused: only this server's own page may ask.\n", status=403)
        return None

    async def _entrance(self, request: web.Request) -> web.StreamResponse:
        if not self._door.takes_token(request.match_info["token"]):
            return _refused("This address is no longer good: scan the code that the computer shows now.")
        answer = web.Response(text=entrance_page(address_of(self._home)), content_type="text/html")
        answer.set_cookie(self._door.cookie, self._door.ticket, httponly=True, samesite="Strict", path="/")
        return answer

    async def _screens_page(self, request: web.Request) -> web.StreamResponse:
        try:
            self._check(place_asked_for(request))
        except MatrixCheckError as error:
            return _refused(str(error), let_in=True)
        return web.Response(text=screens_page(), content_type="text/html")

    async def _alive(self, _request: web.Request) -> web.StreamResponse:
        return web.Response(status=204)

    async def _file(self, request: web.Request) -> web.StreamResponse:
        served = self._files.get(request.match_info["name"])
        if served is None:
            raise web.HTTPNotFound
        if any(tag.value == served.etag for tag in request.if_none_match or ()):
            return web.Response(status=304)
        answer = web.Response(body=served.body, content_type=served.media_type)
        answer.etag = served.etag
        return answer

    async def _screens(self, request: web.Request) -> web.StreamResponse:
        try:
            place = place_asked_for(request)
            self._check(place)
        except MatrixCheckError as error:
            raise web.HTTPNotFound(text=f"{error}\n") from error
        socket = web.WebSocketResponse(
            heartbeat=15, max_msg_size=self._limits.message_bytes, timeout=self._limits.patience
        )
        await socket.prepare(request)
        if len(self._open) >= self._limits.pages:
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

    async def _close_all(self, _app: web.Application) -> None:
        running = list(self._open.values())
        await asyncio.gather(*(socket.close(code=Closed.SERVER_ENDS) for socket in self._open))
        await asyncio.gather(*running, return_exceptions=True)

    async def _harden(self, request: web.Request, response: web.StreamResponse) -> None:
        response.headers["Server"] = "matrixcheck"
        response.headers["Cache-Control"] = "no-cache" if request.path.startswith("/files/") else "no-store"
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "no-referrer"
        # Everything from here and nothing from elsewhere; the terminal script writes its own style elements.
        response.headers["Content-Security-Policy"] = (
            "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
            f"font-src 'self'; connect-src 'self' {' '.join(f'ws://{host}' for host in sorted(self._door.hosts))}; "
            "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
        )


def address_of(place: Place) -> str:
    """Return the address of a place on this server, from the root on."""
    query = urlencode({name: value for name, value in (("job", place.job), ("matrix", place.matrix)) if value})
    return f"/?{query}" if query else "/"


def place_asked_for(request: web.Request) -> Place:
    """Return the place that a request's query names. Raises UsageError when it says anything else, or says it twice."""
    query = request.query
    if len(set(query)) != len(query) or not set(query) <= _QUERY[request.path]:
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


def _refused(says: str, let_in: bool = False) -> web.Response:
    return web.Response(text=refusal_page(says, let_in), content_type="text/html", status=404 if let_in else 403)
