"""The web server: everything that can be asked for, behind the door."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import Protocol

from aiohttp import web

from matrixcheck.web.access import Door
from matrixcheck.web.connections import Connections
from matrixcheck.web.files import entrance_page, known_files, refusal_page

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Room(Protocol):
    """A part of the site: what can be asked for there, and how it closes when the server ends."""

    def routes(self) -> Sequence[web.RouteDef]:
        """Return its addresses, with the handler of each."""

    async def close(self) -> None:
        """End what is still open."""


class Site:
    """The rooms over one bench book, and who may come in.

    `home` is the address where somebody goes who has just come in with the token; `connections` learns who may come in.
    """

    def __init__(self, door: Door, home: str, rooms: Sequence[Room], *, connections: Connections) -> None:
        self._door = door
        self._home = home
        self._rooms = rooms
        self._connections = connections
        self._files = known_files()

    def application(self) -> web.Application:
        """Return the aiohttp application; shut down, it closes every room."""
        app = web.Application(middlewares=[self._guard])
        app.router.add_get("/in/{token}", self._entrance)
        app.router.add_get("/alive", self._alive)
        app.router.add_get("/files/{name}", self._file)
        for room in self._rooms:
            app.router.add_routes(room.routes())
        app.on_response_prepare.append(self._harden)
        app.on_shutdown.append(self._close_rooms)
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
        # Whatever can change something must say which page it comes from; a reader may hide it.
        changes = request.method not in ("GET", "HEAD") or request.path == "/screens"
        if not door.asked_from_here(headers.getall("Origin", []), request.host, required=changes):
            return web.Response(text="Refused: only this server's own page may ask.\n", status=403)
        return None

    async def _entrance(self, request: web.Request) -> web.StreamResponse:
        if not self._door.takes_token(request.match_info["token"]):
            return _refused("This address is no longer good: scan the code that the computer shows now.")
        answer = web.Response(text=entrance_page(self._home), content_type="text/html")
        answer.set_cookie(self._door.cookie, self._door.ticket, httponly=True, samesite="Strict", path="/")
        return answer

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

    async def _close_rooms(self, _app: web.Application) -> None:
        for room in self._rooms:
            await room.close()

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


def _refused(says: str) -> web.Response:
    return web.Response(text=refusal_page(says, let_in=False), content_type="text/html", status=403)
