"""The page for a phone, asked by a client that isn't a browser."""

from __future__ import annotations

import itertools
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from aiohttp import ClientResponse, CookieJar
from aiohttp.test_utils import TestClient, TestServer, unused_port

from matrixcheck.web.access import Door
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.page.answering import PhonePage
from matrixcheck.web.page.benches import Benches
from matrixcheck.web.site import Site

PHONE = "00112233aabbccdd"


class PageClient:
    """A phone by its name, as it speaks to the computer."""

    def __init__(self, client: TestClient, own: str) -> None:
        self.client = client
        self.own = own
        self._sends = itertools.count(1)

    async def post(self, path: str, *, phone: str = PHONE, send: str = "", **body: object) -> ClientResponse:
        sent = {"client": phone, "send": send or f"{phone}-{next(self._sends)}", **body}
        return await self.client.post(path, json=sent, headers={"Origin": self.own})

    async def kept(self, path: str, **body: Any) -> dict[str, Any]:
        answer = await self.post(path, **body)
        assert answer.status == 200, await answer.text()
        return await answer.json()

    async def refused(self, path: str, **body: Any) -> dict[str, str]:
        answer = await self.post(path, **body)
        assert answer.status == 422, await answer.text()
        return (await answer.json())["error"]

    async def page(self, path: str, phone: str = PHONE) -> str:
        answer = await self.client.get(path, headers={"Cookie": f"matrixcheck-client={phone}"})
        assert answer.status == 200, await answer.text()
        return await answer.text()


@asynccontextmanager
async def phone_at(book: Path) -> AsyncIterator[PageClient]:
    """A phone at a book that is served on this computer."""
    door = Door(("127.0.0.1",), unused_port())
    site = Site(door, (PhonePage(Benches(book)),), connections=Connections(Bounds()))
    server = TestServer(site.application(), port=door.port)
    async with TestClient(server, cookie_jar=CookieJar(unsafe=True)) as client:
        yield PageClient(client, f"http://127.0.0.1:{door.port}")
