"""The web server: everything that can be asked for, behind the door."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from aiohttp import web

from matrixcheck.web.access import Door
from matrixcheck.web.connections import Connections
from matrixcheck.web.entrance import PATH as ENTRANCE
from matrixcheck.web.entrance import keep_cookie
from matrixcheck.web.files import known_files, refusal_page
from matrixcheck.web.tries import Tries

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]


class Room(Protocol):
    """A part of the site: what can be asked for there, and how it closes when the server ends."""

    def routes(self) -> Sequence[web.RouteDef]:
        """Return its addresses, with the handler of each."""

    async def close(self) -> None:
        """End what is still open."""


@dataclass(frozen=True)
class Intake:
    """What is taken in: bytes of one body, seconds until it is there, and the tries of an address without a cookie."""

    body_bytes: int = 4 * 1024**2
    body_seconds: float = 10.0
    strangers: Tries = field(default_factory=lambda: Tries(60, 10.0))


class Site:
    """The rooms over one bench book, and who may come in: `connections` learns it."""

    def __init__(
        self, door: Door, rooms: Sequence[Room], *, connections: Connections, intake: Intake | None = None
    ) -> None:
        self._door = door
        self._rooms = rooms
        self._connections = connections
        self._intake = intake or Intake()
        self._files = known_files()

    def application(self) -> web.Application:
        """Return the aiohttp application; shut down, it closes every room."""
        app = web.Application(middlewares=[self._guard], client_max_size=self._intake.body_bytes)
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
        holder = None if refusal else self._door.holder_of(request.cookies.get(self._door.cookie))
        if holder is not None:
            with self._connections.serving(request.transport, holder) as room:
                answer = await self._taken_in(request, handler) if room else _full(request)
                self._renew_cookie(request, answer)
                return answer
        try:
            answer = refusal or await self._answer_to_stranger(request, handler)
        except web.HTTPException as error:
            error.force_close()
            raise
        answer.force_close()
        return answer

    def _renew_cookie(self, request: web.Request, answer: web.StreamResponse) -> None:
        """Have a paired device's cookie last on with each page that is loaded: browsers give it 400 days at most."""
        secret = request.cookies.get(self._door.cookie)
        if self._door.devices is not None and secret and not answer.prepared and answer.content_type == "text/html":
            keep_cookie(answer, self._door, secret)

    async def _answer_to_stranger(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if not self._intake.strangers.allows(request.remote or ""):
            return web.Response(text="Too many requests: wait ten seconds.\n", status=429)
        if request.path.startswith(ENTRANCE):
            return await self._taken_in(request, handler)
        says = "To pair this device, scan the code that the computer shows. Enter at the computer shows a fresh one."
        return web.Response(text=refusal_page(says, let_in=False), content_type="text/html", status=403)

    async def _taken_in(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Answer a request once its body is there. One that is too large or too slow ends its connection."""
        if request.body_exists:
            if (request.content_length or 0) > self._intake.body_bytes:
                return _given_up(413, "Refused: this is too large.\n")
            try:
                async with asyncio.timeout(self._intake.body_seconds):
                    await request.read()
            except TimeoutError:
                return _given_up(408, "Refused: the rest of this didn't come in time.\n")
            except web.HTTPRequestEntityTooLarge:
                return _given_up(413, "Refused: this is too large.\n")
        return await handler(request)

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
        at_entrance = request.path.startswith(ENTRANCE)
        response.headers["Server"] = "matrixcheck"
        response.headers.setdefault("Cache-Control", "no-cache" if request.path.startswith("/files/") else "no-store")
        response.headers["X-Content-Type-Options"] = "nosniff"
        # With no-referrer a browser hides where a form comes from, and the entrance has one. What it then says is this
        # server's own name, and never the code.
        response.headers["Referrer-Policy"] = "strict-origin" if at_entrance else "no-referrer"
        forms = "'self'" if at_entrance else "'none'"
        sockets = " ".join(f"{'wss' if self._door.secure else 'ws'}://{host}" for host in sorted(self._door.hosts))
        # Everything from here and nothing from elsewhere; the terminal script writes its own style elements.
        response.headers["Content-Security-Policy"] = (
            "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
            f"font-src 'self'; manifest-src 'self'; connect-src 'self' {sockets}; "
            f"base-uri 'none'; form-action {forms}; frame-ancestors 'none'"
        )


def _given_up(status: int, says: str) -> web.Response:
    answer = web.Response(text=says, status=status)
    answer.force_close()
    return answer


def _full(request: web.Request) -> web.Response:
    """Say that there is no room: as a page to whoever loads one, as JSON to a page's own script."""
    if "text/html" in request.headers.get("Accept", ""):
        says = "Too many pages are busy here: close one of them, then load this one again."
        answer = web.Response(text=refusal_page(says, let_in=False), content_type="text/html", status=503)
    else:
        what, hint = "too many pages are busy at the computer", "close one of them, on this phone or another"
        answer = web.json_response({"error": {"what": what, "hint": hint, "full": True}}, status=503)
    answer.force_close()
    return answer
