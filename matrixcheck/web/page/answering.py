"""The page on the web server: each route's view runs in a worker thread, with the bench of the phone that asks."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

from aiohttp import web

from matrixcheck.bench import Bench
from matrixcheck.errors import BookError, MatrixCheckError, UsageError
from matrixcheck.record.clients import page_key
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.web.page.answers import Answers
from matrixcheck.web.page.asking import Asked, File, Get, Post, Route, Shown, Taken, Upload
from matrixcheck.web.page.benches import Benches
from matrixcheck.web.page.drawing import draw
from matrixcheck.web.page.live import Live
from matrixcheck.web.page.routes import routes_of
from matrixcheck.web.page.sources import Sources

CLIENT_COOKIE = "matrixcheck-client"
LARGEST_ENTRY = 64 * 1024


class PhonePage:
    """The page for a phone, over the benches of one book.

    `layouts` and `mains_region` as in `Sources`.
    """

    def __init__(
        self, benches: Benches, *, layouts: Path | None = None, mains_region: EarthLimit = EarthLimit.PLUS_LEAD
    ) -> None:
        self._benches = benches
        self._answers = Answers(benches.watch)
        self._live = Live(benches, self._answers.version)
        self._routes = routes_of(Sources(self._answers, layouts, mains_region))

    def routes(self) -> list[web.RouteDef]:
        """Return what can be asked for here."""
        return [web.get("/live", self._stream), *(self._defined(route) for route in self._routes)]

    async def close(self) -> None:
        """End the streams and the answers, and close the benches."""
        await self._live.close()
        await asyncio.to_thread(self._answers.close)
        self._benches.close()

    async def _stream(self, request: web.Request) -> web.StreamResponse:
        client = _client(request, {})
        if not self._live.has_room_for(client):
            return web.Response(text="Too many pages are open.\n", status=503)
        return await self._live.stream(client, request)

    def _defined(self, route: Route) -> web.RouteDef:
        match route:
            case Get():
                return web.get(route.path, partial(_show, self._benches, self._live, route))
            case File():
                return web.get(route.path, partial(_hand_out, self._benches, route))
        return web.post(route.path, partial(_take, self._benches, route))


async def _show(benches: Benches, live: Live, route: Get, request: web.Request) -> web.StreamResponse:
    asked = Asked(_client(request, {}), dict(request.match_info), dict(request.query))
    try:
        if not live.has_room_for(asked.client):
            raise BookError("too many pages are open at this book", "close one of them, then load this one again")
        if len(request.query) != len(asked.query):
            raise UsageError("this address says something twice", "say it once")
        text = await benches.use(asked.client, partial(_drawn, route, asked))
    except MatrixCheckError as error:
        status = 503 if isinstance(error, BookError) else 404
        return web.Response(text=draw(Shown("refused.html", error)), content_type="text/html", status=status)
    return web.Response(text=text, content_type="text/html")


def _drawn(route: Get, asked: Asked, bench: Bench) -> str:
    return draw(route.view(bench, asked))


async def _hand_out(benches: Benches, route: File, request: web.Request) -> web.StreamResponse:
    asked = Asked(_client(request, {}), dict(request.match_info))
    try:
        body = await benches.use(asked.client, lambda bench: route.view(bench, asked))
    except MatrixCheckError as error:
        return web.Response(text=f"{error}\n", status=503 if isinstance(error, BookError) else 404)
    headers = {"Cache-Control": "private, max-age=31536000, immutable"}
    return web.Response(body=body, content_type=route.media_type, headers=headers)


async def _take(benches: Benches, route: Post | Upload, request: web.Request) -> web.StreamResponse:
    try:
        body, view = (
            await _uploaded(request, route) if isinstance(route, Upload) else (await _body(request), route.view)
        )
        asked = Asked(_client(request, body), dict(request.match_info), dict(request.query), body)
        taken = await benches.use(asked.client, partial(_signed, view, asked))
    except MatrixCheckError as error:
        # A book in trouble is no fault of the entry: it is sent again.
        status = 503 if isinstance(error, BookError) else 422
        return web.json_response({"error": {"what": error.message, "hint": error.hint}}, status=status)
    return web.json_response(taken._asdict())


def _signed(view: Callable[[Bench, Asked], Taken], asked: Asked, bench: Bench) -> Taken:
    if "initials" in asked.body and asked.text("initials") != bench.by.initials:
        bench.sign(asked.text("initials"))
    return view(bench, asked)


async def _uploaded(request: web.Request, route: Upload) -> tuple[Mapping[str, Any], Callable[[Bench, Asked], Taken]]:
    """Return what the query of an upload says, and its view, which has the file already."""
    if request.content_type != route.media_type:
        raise UsageError(f"what the page sent is no file of the type {route.media_type}", "load the page again")
    if (request.content_length or 0) > route.largest:
        raise UsageError(f"what the page sent has more than {route.largest:,} bytes", "load the page again")
    file = await request.read()
    return dict(request.query), lambda bench, asked: route.view(bench, asked, file)


async def _body(request: web.Request) -> Mapping[str, Any]:
    if request.content_type != "application/json" or len(await request.read()) > LARGEST_ENTRY:
        raise UsageError("what the page sent can't be read", "load the page again")
    try:
        body = json.loads(await request.text())
    except (ValueError, RecursionError):
        body = None
    if not isinstance(body, dict):
        raise UsageError("what the page sent can't be read", "load the page again")
    return body


def _client(request: web.Request, body: Mapping[str, Any]) -> str:
    """Return the name that a phone gave itself, or a fresh one where it gave none."""
    given = body.get("client") or request.cookies.get(CLIENT_COOKIE, "")
    return page_key(given if isinstance(given, str) else "")
