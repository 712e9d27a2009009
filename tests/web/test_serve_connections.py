"""Who keeps a connection and who loses it: two pools, and the request line and headers within their limits."""

from __future__ import annotations

import asyncio
import io
import logging
import socket
from collections.abc import AsyncIterator
from contextlib import ExitStack, asynccontextmanager
from pathlib import Path

import pytest
from aiohttp import ClientSession, web
from hypothesis import given
from hypothesis import strategies as st

from matrixcheck.layout.limits import LARGEST_PHOTO
from matrixcheck.web.access import Door
from matrixcheck.web.answering import answering, give_up_when_mute
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.devices import Devices
from matrixcheck.web.network import listening_socket
from matrixcheck.web.site import Site
from matrixcheck.web.sparse_log import LONGEST, SECONDS_BETWEEN, SparseLog

DEADLINE = 20
FEW = Bounds(strangers=3, let_in=2, header_seconds=3600, header_bytes=100)


class Peer(asyncio.Transport):
    """A connection from an address that notes whether it was closed."""

    def __init__(self, address: str = "10.0.0.1") -> None:
        super().__init__({"peername": (address, 1)})
        self.open = True

    def abort(self) -> None:
        self.open = False


def open_ones(*peers: Peer) -> list[bool]:
    return [peer.open for peer in peers]


async def test_the_oldest_stranger_goes_for_a_new_one() -> None:
    connections = Connections(FEW)
    peers = [Peer() for _ in range(5)]
    for peer in peers:
        connections.opened(peer)
    assert open_ones(*peers) == [False, False, True, True, True]


async def test_an_address_that_opens_many_pushes_out_its_own_only() -> None:
    connections = Connections(FEW)
    phone = Peer("10.0.0.2")
    connections.opened(phone)
    crowd = [Peer() for _ in range(50)]
    for peer in crowd:
        connections.opened(peer)
    assert phone.open
    assert sum(open_ones(*crowd)) == 2


async def test_no_crowd_of_strangers_pushes_out_one_that_was_let_in() -> None:
    connections = Connections(FEW)
    phone = Peer()
    connections.opened(phone)
    with connections.serving(phone, 1):
        pass
    for _ in range(50):
        connections.opened(Peer())
    assert phone.open


async def test_among_those_let_in_the_longest_idle_goes_and_never_a_busy_one() -> None:
    connections = Connections(FEW)
    page, first, second, third = (Peer() for _ in range(4))
    with ExitStack() as busy:
        connections.opened(page)
        busy.enter_context(connections.serving(page, 1))
        for peer in (first, second):
            connections.opened(peer)
            with connections.serving(peer, 2):
                pass
        assert open_ones(page, first, second) == [True, False, True]
        busy.enter_context(connections.serving(second, 2))
        connections.opened(third)
        with connections.serving(third, 2) as room:
            assert not room
            assert open_ones(page, second, third) == [True, True, True]
    connections.opened(fourth := Peer())
    with connections.serving(fourth, 2):
        assert open_ones(page, second, fourth) == [True, False, True]


async def test_a_stranger_may_send_a_header_and_no_more_and_one_let_in_as_much_as_it_likes() -> None:
    connections = Connections(FEW)
    one, other = Peer(), Peer()
    connections.opened(one)
    connections.opened(other)
    assert connections.takes(one, 60)
    assert connections.takes(one, 40)
    assert not connections.takes(one, 1)
    with connections.serving(other, 1):
        assert connections.takes(other, 10**9)
    assert connections.takes(other, 10**9)
    assert open_ones(one, other) == [False, True]


async def test_a_connection_that_has_gone_is_let_in_nowhere() -> None:
    connections = Connections(FEW)
    gone = Peer()
    connections.opened(gone)
    connections.closed(gone)
    with connections.serving(gone, 1), connections.serving(None, 1):
        connections.closed(gone)
    for peer in (peers := [Peer() for _ in range(3)]):
        connections.opened(peer)
    assert all(open_ones(*peers))


@given(st.lists(st.tuples(st.sampled_from(["open", "ask", "answer", "close"]), st.integers(0, 9)), max_size=60))
def test_the_pools_never_hold_more_than_they_may_and_no_busy_one_is_closed(steps: list[tuple[str, int]]) -> None:
    async def walk() -> None:
        connections = Connections(FEW)
        peers: dict[int, Peer] = {}
        answers: dict[int, ExitStack] = {}
        for what, which in steps:
            if what == "open" and which not in peers:
                peers[which] = Peer(f"10.0.0.{which % 3}")
                connections.opened(peers[which])
            elif which not in peers or not peers[which].open:
                continue
            elif what == "ask" and which not in answers:
                answers[which] = ExitStack()
                if not answers[which].enter_context(connections.serving(peers[which], which)):
                    answers.pop(which).close()
            elif what == "answer" and which in answers:
                answers.pop(which).close()
            elif what == "close" and which not in answers:
                connections.closed(peers.pop(which))
            assert sum(peer.open for peer in peers.values()) <= FEW.strangers + FEW.let_in
            assert all(peers[busy].open for busy in answers)

    asyncio.run(walk())


class Held:
    """A room whose one address answers once it is told to."""

    def __init__(self) -> None:
        self.asked, self.go = asyncio.Event(), asyncio.Event()

    def routes(self) -> list[web.RouteDef]:
        return [web.get("/held", self._answer)]

    async def close(self) -> None:
        self.go.set()

    async def _answer(self, _request: web.Request) -> web.Response:
        self.asked.set()
        await self.go.wait()
        return web.Response(text="let go")


@asynccontextmanager
async def site_with(room: Held, bounds: Bounds, devices: Devices | None = None) -> AsyncIterator[str]:
    """A real site, by its address; with devices for those alone."""
    connections = Connections(bounds)
    with listening_socket("127.0.0.1", 0) as listener:
        door = Door(("127.0.0.1",), listener.getsockname()[1], devices=devices)
        application = Site(door, (room,), connections=connections).application()
        async with answering(application, listener, connections, bounds, patience=DEADLINE):
            yield door.root


async def test_where_all_are_busy_a_script_is_told_as_json_and_a_person_as_a_page() -> None:
    room = Held()
    async with site_with(room, Bounds(let_in=1)) as root, ClientSession() as client:
        held = asyncio.create_task(client.get(f"{root}/held"))
        await asyncio.wait_for(room.asked.wait(), DEADLINE)
        answer = await client.post(f"{root}/job/a/mark", json={}, headers={"Origin": root})
        assert answer.status == 503
        error = (await answer.json())["error"]
        assert error["full"] is True
        assert "too many pages" in error["what"]
        assert "close one" in error["hint"]
        page = await client.get(f"{root}/", headers={"Accept": "text/html,*/*"})
        assert (page.status, page.content_type) == (503, "text/html")
        assert "Too many pages are busy" in await page.text()
        room.go.set()
        assert await (await held).text() == "let go"


async def test_a_stranger_who_sends_a_photo_reads_why_it_is_refused(tmp_path: Path) -> None:
    """Closed with bytes unread, the connection would be reset, and the answer lost on its way."""
    photo = bytes(LARGEST_PHOTO)
    async with site_with(Held(), Bounds(), Devices(tmp_path / "devices")) as root:
        port = int(root.rpartition(":")[2])
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        head = f"POST /job/a/photo HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: {root}\r\nContent-Length: {len(photo)}"
        writer.write(f"{head}\r\n\r\n".encode() + photo)
        await asyncio.wait_for(writer.drain(), DEADLINE)
        answer = await asyncio.wait_for(reader.read(), DEADLINE)
        assert answer.startswith(b"HTTP/1.1 403")
        assert b"To pair this device" in answer
        writer.close()


@asynccontextmanager
async def served(bounds: Bounds) -> AsyncIterator[int]:
    """The port of a server that lets in whoever asks for /in, and keeps the connections of those."""
    connections = Connections(bounds)

    async def answer(request: web.Request) -> web.Response:
        if request.path != "/in":
            return web.Response(status=403)
        with connections.serving(request.transport, 1):
            await request.read()
            return web.Response(text="welcome")

    application = web.Application(client_max_size=2_000_000)
    application.router.add_route("*", "/{any:.*}", answer)
    with listening_socket("127.0.0.1", 0) as listener:
        async with answering(application, listener, connections, bounds, patience=DEADLINE):
            yield listener.getsockname()[1]


async def answer_to(sent: bytes, bounds: Bounds) -> bytes:
    """All that a server sends to somebody who says this, until it closes."""
    async with served(bounds) as port:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(sent)
        try:
            return await asyncio.wait_for(reader.read(), DEADLINE)
        except ConnectionError:
            return b""
        finally:
            writer.close()


@pytest.mark.parametrize(
    "sent", [b"", b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ", b"GET /else HTTP/1.1\r\nHost: x\r\n\r\n"]
)
async def test_a_connection_without_a_request_that_may_come_in_is_closed_in_time(sent: bytes) -> None:
    assert (await answer_to(sent, Bounds(header_seconds=0.2)))[:12] in (b"", b"HTTP/1.1 403")


@pytest.mark.parametrize(
    "sent",
    [
        b"GET / HTTP/1.1\r\nX-Long: " + b"x" * 200_000,
        b"GET /in HTTP/1.1\r\nHost: x\r\n" + b"X-Many: y\r\n" * 20_000 + b"\r\n",
    ],
    ids=["one long header", "many headers"],
)
async def test_a_header_beyond_the_limit_is_not_read_on(sent: bytes) -> None:
    assert b"welcome" not in await answer_to(sent, Bounds(header_seconds=3600))


async def test_a_malformed_request_gets_its_status_and_nothing_of_what_it_said() -> None:
    answer = await answer_to(b"GET / HTTP/1.1\r\nHost x strange\r\n\r\n", Bounds(header_seconds=3600))
    assert answer[:12] in (b"HTTP/1.0 400", b"HTTP/1.1 400")
    assert b"Python" not in answer
    assert b"strange" not in answer


async def test_one_that_may_come_in_is_answered() -> None:
    said = b"GET /in HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    assert (await answer_to(said, Bounds(header_seconds=3600))).endswith(b"welcome")


def body_of(size: int, sent: int, path: str = "/in") -> bytes:
    """A request that announces a body of one size and brings one of another."""
    header = f"POST {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Length: {size}\r\n\r\n"
    return header.encode() + bytes(sent)


async def test_a_photo_may_come_on_the_heels_of_its_header_before_it_is_known_who_sends_it() -> None:
    for size in (20_000, 300_000, 1_000_000):
        assert (await answer_to(body_of(size, size), Bounds(header_seconds=3600))).endswith(b"welcome")


@pytest.mark.parametrize("announced", [0, 10])
async def test_a_stranger_that_brings_more_than_it_announced_is_not_read_on(announced: int) -> None:
    assert await answer_to(body_of(announced, 300_000, "/else"), Bounds(header_seconds=3600)) == b""


async def test_a_connection_that_takes_in_nothing_is_left_to_the_kernel_to_close() -> None:
    with listening_socket("127.0.0.1", 0) as listener, socket.create_connection(listener.getsockname()) as other:
        give_up_when_mute(other)
        assert 5_000 <= other.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT) <= 30_000


async def test_a_connection_goes_on_as_the_same_once_it_is_set_up() -> None:
    connections = Connections(FEW)
    arriving, connection, late, dropped = (Peer() for _ in range(4))
    connections.opened(arriving)
    connections.set_up(arriving, connection)
    for _ in range(FEW.strangers):
        connections.opened(Peer())
    assert open_ones(arriving, connection) == [True, False]
    connections.opened(dropped)
    connections.closed(dropped)
    connections.set_up(dropped, late)
    assert not late.open


def record(text: str, cause: BaseException | None = None) -> logging.LogRecord:
    exc_info = (type(cause), cause, None) if cause else None
    return logging.LogRecord("x", logging.WARNING, "x.py", 1, text, None, exc_info)


def test_the_log_says_a_line_a_minute_and_counts_what_it_left_out() -> None:
    out, now = io.StringIO(), [0.0]
    log = SparseLog(out, lambda: now[0])
    for number in range(500):
        log.handle(record(f"refused {number}"))
    now[0] = SECONDS_BETWEEN - 0.01
    log.handle(record("refused still"))
    assert out.getvalue() == "refused 0\n"
    now[0] = SECONDS_BETWEEN
    log.handle(record("refused later"))
    assert out.getvalue() == "refused 0\nrefused later (500 more since the last line)\n"
    now[0] = 2 * SECONDS_BETWEEN
    log.handle(record("refused again"))
    assert out.getvalue().splitlines()[2:] == ["refused again"]


@given(st.text(), st.text())
def test_whatever_is_logged_is_one_short_line_without_orders_for_a_terminal(text: str, cause: str) -> None:
    out = io.StringIO()
    SparseLog(out, lambda: 0.0).handle(record(text.replace("%", ""), ValueError(cause)))
    said = out.getvalue()
    assert said.endswith("\n")
    assert said[:-1].isprintable()
    assert len(said) <= LONGEST + 1


def test_a_log_that_nobody_reads_any_more_holds_up_nothing() -> None:
    out = io.StringIO()
    out.close()
    SparseLog(out, lambda: 0.0).handle(record("refused"))
