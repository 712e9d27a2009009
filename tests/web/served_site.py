"""A running site with a stand-in for the screens, and a client of it."""

from __future__ import annotations

import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

from aiohttp import ClientResponse, ClientWebSocketResponse, CookieJar
from aiohttp.test_utils import TestClient, TestServer, unused_port

from matrixcheck.errors import UsageError
from matrixcheck.web.access import Door
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.devices import Device, Devices
from matrixcheck.web.entrance import Entrance
from matrixcheck.web.page.answering import PhonePage
from matrixcheck.web.page.benches import Benches
from matrixcheck.web.pairing import Pairing
from matrixcheck.web.place import Place
from matrixcheck.web.site import Intake, Site
from matrixcheck.web.terminal import Limits, Terminal

PROGRAM = Path(__file__).with_name("served_program.py")
QUICK = Limits(pages=2, message_bytes=2000, patience=0.3)


class Clock:
    """A clock that a test sets."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


@dataclass
class Served:
    """A running site, a client of it, and the headers that its own page would send."""

    door: Door
    client: TestClient
    pairing: Pairing
    clock: Clock
    paired: list[Device] = field(default_factory=list)

    @property
    def own(self) -> str:
        return f"http://127.0.0.1:{self.door.port}"

    async def pair(self, code: str | None = None, name: str = "phone", **headers: str) -> ClientResponse:
        """Press the button behind a code; without one, behind a fresh code."""
        path = f"/in/{code or self.pairing.fresh()}"
        return await self.client.post(path, data={"name": name}, headers={"Origin": self.own} | headers)

    async def enter(self) -> None:
        answer = await self.pair()
        assert answer.status == 200

    async def open(self, query: str = "width=100&height=32", **headers: str) -> ClientWebSocketResponse:
        return await self.client.ws_connect(f"/screens?{query}", headers={"Origin": self.own} | headers, max_msg_size=0)


def known_place(place: Place) -> None:
    if place not in (Place(), Place("ab12"), Place("ab12", "lamps")):
        raise UsageError(f"no job {place.job}", "see matrixcheck job list")


@asynccontextmanager
async def serving(
    *, lan: bool = False, limits: Limits = QUICK, home: str = "/", intake: Intake | None = None
) -> AsyncIterator[Served]:
    """A site for anybody, as on loopback; with `lan` for paired devices only."""

    def command(place: Place, key: str) -> tuple[str, ...]:
        return (sys.executable, str(PROGRAM), f"job={place.job}", f"matrix={place.matrix}", f"key={key}")

    clock = Clock()
    pairing = Pairing(clock)
    paired: list[Device] = []
    with TemporaryDirectory() as folder:
        devices = Devices(Path(folder) / "bench.book.devices") if lan else None
        door = Door(("127.0.0.1", "localhost"), unused_port(), devices=devices)
        rooms = (
            Entrance(door, pairing, home, paired.append),
            PhonePage(Benches(Path(folder) / "bench.book")),
            Terminal(known_place, command, limits),
        )
        application = Site(door, rooms, connections=Connections(Bounds()), intake=intake).application()
        server = TestServer(application, port=door.port)
        async with TestClient(server, cookie_jar=CookieJar(unsafe=True)) as client:
            yield Served(door, client, pairing, clock, paired)
