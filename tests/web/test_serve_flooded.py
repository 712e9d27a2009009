"""`matrixcheck serve --lan` while strangers flood it: the paired technician still loads the page and marks."""

from __future__ import annotations

import asyncio
import json
import os
import random
import resource
import signal
import socket
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import ExitStack, asynccontextmanager
from pathlib import Path
from threading import Event
from urllib.parse import urlsplit

import pytest
from aiohttp import ClientSession, ClientTimeout, CookieJar, WSMsgType
from served_book import DEADLINE, LAN, Server

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from matrixcheck.web.pairing import fresh_secret
from matrixcheck.web.terminal import Closed
from tests.machines import saltmarsh_tram

SILENT = 1500
OPEN_FILES = 256
MOST_MEMORY = 48 * 1024**2

MALFORMED = (
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(range(256)),
    b"\0" * 100,
    b"GET\r\n\r\n",
    b"GET / HTTP/9.9\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost \x1b[2J\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
    b"GET / HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
    b"GET /" + b"x" * 100_000 + b" HTTP/1.1\r\n\r\n",
    b"\r\n" * 500 + b"\xff\xfe",
)


class Book:
    """A served book with one job of the invented machine on it."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "bench.book"
        self.job = Bench(self.path).new_job(saltmarsh_tram(), "pier arcade")

    def mark(self, number: int) -> Mark | None:
        """What the journal holds of a switch."""
        found = Bench(self.path).state(self.job).standings.values()
        marks = (each.mark for each in found if each.cell.key.matrix == "switches" and each.cell.number == number)
        return next(marks, None)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    return Book(tmp_path)


@pytest.fixture
def server(book: Book) -> Iterator[Server]:
    """The server, with few files to open; at its end it must have said a few lines and no more."""
    running = Server(book.path, book.job, *LAN)
    resource.prlimit(running.process.pid, resource.RLIMIT_NOFILE, (OPEN_FILES, OPEN_FILES))
    said = running.said
    yield running
    running.end()
    assert running.process.returncode == 0
    later = running.said.removeprefix(said).splitlines()
    assert all(line.startswith("Paired: phone") for line in later)
    assert len(later) <= 2
    complaints = running.complaints()
    assert len(complaints) <= 3
    assert all(line.isprintable() and "Traceback" not in line for line in complaints)


@pytest.fixture
def strangers() -> Iterator[Callable[..., socket.socket]]:
    """Open connections to a port that stay open to the end of the test, from an address of this computer."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, max(soft, SILENT + 500)), hard))
    with ExitStack() as held:

        def connect(port: int, sends: bytes = b"", source: str = "127.0.0.1") -> socket.socket:
            stranger = held.enter_context(
                socket.create_connection(("127.0.0.1", port), DEADLINE, source_address=(source, 0))
            )
            stranger.sendall(sends)
            return stranger

        yield connect
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@asynccontextmanager
async def paired(server: Server) -> AsyncIterator[ClientSession]:
    """A phone that has scanned the code and pressed the button."""
    async with ClientSession(
        server.root, cookie_jar=CookieJar(unsafe=True), timeout=ClientTimeout(total=DEADLINE)
    ) as phone:
        way_in = urlsplit(await asyncio.to_thread(server.way_in)).path
        async with phone.post(way_in, data={"name": "phone"}, headers={"Origin": server.root}) as entrance:
            assert entrance.status == 200
        yield phone


async def eventually(holds: Callable[[], bool]) -> None:
    async with asyncio.timeout(DEADLINE):
        while not holds():
            await asyncio.sleep(0.05)


async def loads_and_marks(server: Server, book: Book, phone: ClientSession, number: int) -> None:
    """Load the page with its files, and mark a switch dead on it."""
    for path in (f"/job/{book.job}", "/files/page.css", "/files/page.js"):
        async with phone.get(path) as answer:
            assert answer.status == 200
            assert await answer.read()
    entry = {"client": "00112233aabbccdd", "send": f"send-{number}", "text": f"{number}-"}
    where = f"/job/{book.job}/switches/mark"
    async with phone.post(where, json=entry, headers={"Origin": server.root}) as answer:
        assert answer.status == 200
    assert book.mark(number) is Mark.DEAD


async def loads_and_marks_in_the_terminal(server: Server, book: Book, phone: ClientSession, number: int) -> None:
    """Load the terminal in the browser, and mark a switch dead there."""
    for path in (f"/terminal?job={book.job}", "/files/screens.js", "/files/terminal.js"):
        async with phone.get(path) as answer:
            assert answer.status == 200
            assert await answer.read()
    page = await phone.ws_connect(
        f"/screens?job={book.job}&width=100&height=32", headers={"Origin": server.root}, max_msg_size=0
    )
    await page.send_json(["stdin", f"{number}-\r"])
    await eventually(lambda: book.mark(number) is Mark.DEAD)
    await page.close()


def peak_memory(server: Server) -> int:
    """The most memory that the server ever had, in bytes."""
    status = Path(f"/proc/{server.process.pid}/status").read_text()
    return 1024 * next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:"))


def end_of(stranger: socket.socket) -> bytes:
    """All that the server sends until it closes."""
    got = b""
    try:
        while more := stranger.recv(65536):
            got += more
    except ConnectionError:
        pass
    return got


@pytest.mark.parametrize("silent", [2 * OPEN_FILES, pytest.param(SILENT, marks=pytest.mark.slow)])
@pytest.mark.slow
async def test_silent_connections_shut_out_no_paired_phone_and_no_new_one(server, book, strangers, silent) -> None:
    async with paired(server) as phone:
        memory = peak_memory(server)
        half = b"GET / HTTP/1.1\r\nHost: x\r\n" + b"X-Filler: y\r\n" * 100
        await asyncio.to_thread(lambda: [strangers(server.port, half * (each % 2)) for each in range(silent)])
        await loads_and_marks(server, book, phone, 24)
        async with paired(server) as another:
            await loads_and_marks_in_the_terminal(server, book, another, 53)
        assert len(list(Path(f"/proc/{server.process.pid}/fd").iterdir())) < OPEN_FILES
        assert peak_memory(server) - memory < MOST_MEMORY


@pytest.mark.slow
async def test_while_another_address_keeps_opening_connections_the_paired_phone_marks(server, book, strangers) -> None:
    over = Event()

    def flood() -> None:
        held = [strangers(server.port, source="127.0.0.2") for _ in range(200)]
        while not over.is_set():
            held.pop(0).close()
            held.append(strangers(server.port, source="127.0.0.2"))

    async with paired(server) as phone:
        flooding = asyncio.create_task(asyncio.to_thread(flood))
        try:
            await loads_and_marks(server, book, phone, 24)
        finally:
            over.set()
            await flooding


@pytest.mark.slow
async def test_whatever_strangers_send_the_paired_phone_marks(server, book, strangers) -> None:
    """Malformed requests, guessed codes and bodies without end; and requests that never come to their end."""
    own = f"Host: {urlsplit(server.root).netloc}\r\nOrigin: {server.root}\r\n"
    guess = f"POST /in/{{}} HTTP/1.1\r\n{own}Content-Length: 0\r\n\r\n"
    draw = random.Random(20)
    said = [*draw.choices(MALFORMED, k=200), *(guess.format(fresh_secret()).encode() for _ in range(100))]
    said += [
        f"POST /in/x HTTP/1.1\r\n{own}Content-Length: 1000000000\r\n\r\n".encode() + b"x" * 200_000,
        f"POST /in/x HTTP/1.1\r\n{own}Transfer-Encoding: chunked\r\n\r\n".encode() + b"3e8\r\n" + b"x" * 200_000,
    ]
    slow = (
        b"", b"G", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: ",
        f"POST /in/x HTTP/1.1\r\n{own}Content-Length: 1000\r\n\r\nname=".encode(),
    )  # fmt: skip
    async with paired(server) as phone:
        memory = peak_memory(server)
        held = [strangers(server.port, sends) for sends in slow]
        await asyncio.to_thread(lambda: [_send_and_read(strangers(server.port), sends) for sends in said])
        await loads_and_marks(server, book, phone, 24)
        for stranger in held:
            assert await asyncio.to_thread(end_of, stranger) == b""
        assert peak_memory(server) - memory < MOST_MEMORY
    assert "malformed request from 127.0.0.1" in server.complaints()[0]


def _send_and_read(stranger: socket.socket, sends: bytes) -> None:
    try:
        stranger.sendall(sends)
        stranger.shutdown(socket.SHUT_WR)
    except OSError:
        return
    assert end_of(stranger)[9:12] in (b"", b"400", b"403", b"413", b"429")


@pytest.mark.slow
async def test_frames_beyond_the_limit_end_their_page_only(server, book) -> None:
    async with paired(server) as phone:
        for frame in (b"x" * 1_000_000, b"[" * 60_000, b"\xff" * 1000):
            page = await phone.ws_connect("/screens", headers={"Origin": server.root}, max_msg_size=0)
            await page.send_frame(frame, WSMsgType.TEXT)
            async with asyncio.timeout(DEADLINE):
                while (await page.receive()).type in (WSMsgType.BINARY, WSMsgType.TEXT):
                    pass
        await loads_and_marks(server, book, phone, 24)


@pytest.mark.parametrize(
    "number", [signal.SIGTERM, *(pytest.param(each, marks=pytest.mark.slow) for each in (signal.SIGINT, signal.SIGHUP))]
)
async def test_a_signal_to_end_closes_pages_and_silent_connections(server, strangers, number) -> None:
    silent = strangers(server.port)
    async with paired(server) as phone:
        page = await phone.ws_connect("/screens", headers={"Origin": server.root}, max_msg_size=0)
        await eventually(lambda: server.programs() != [])
        programs = server.programs()
        server.process.send_signal(number)
        async with asyncio.timeout(DEADLINE):
            while (await page.receive()).type in (WSMsgType.BINARY, WSMsgType.TEXT):
                pass
    assert page.close_code == Closed.SERVER_ENDS
    assert await asyncio.to_thread(end_of, silent) == b""
    assert await asyncio.to_thread(server.process.wait, DEADLINE) == 0
    assert not any(Path(f"/proc/{program}").exists() for program in programs)


@pytest.mark.slow
async def test_over_the_network_a_path_in_the_form_for_a_new_job_is_not_looked_at(server, tmp_path) -> None:
    os.mkfifo(tmp_path / "pipe")
    async with paired(server) as phone:
        page = await phone.ws_connect("/screens?width=200&height=40", headers={"Origin": server.root}, max_msg_size=0)
        await _says(page, "n", "A machine for the bench")
        await _says(page, f"{tmp_path}/pipe\r", "no layout '")
        await _says(page, "\x1b", "worked on last first")
        await page.close()


@pytest.mark.slow
async def test_on_this_computer_a_pipe_or_device_in_the_form_does_not_stop_the_page(book, tmp_path) -> None:
    os.mkfifo(tmp_path / "pipe")
    server = Server(book.path, "--port", "0")
    try:
        async with ClientSession(server.root) as client:
            page = await client.ws_connect(
                "/screens?width=200&height=40", headers={"Origin": server.root}, max_msg_size=0
            )
            for sent in (f"{tmp_path}/pipe", "/dev/zero"):
                await _says(page, "n", "A machine for the bench")
                await _says(page, f"{sent}\r", "is not a regular file")
                await _says(page, "\x1b", "worked on last first")
            await page.close()
    finally:
        server.end()


async def _says(page, typed: str, text: str) -> None:
    """Type, and wait until the terminal is sent this text."""
    await page.send_str(json.dumps(["stdin", typed]))
    shown = ""
    async with asyncio.timeout(DEADLINE):
        while text not in shown:
            message = await page.receive()
            assert message.type in (WSMsgType.BINARY, WSMsgType.TEXT), message
            shown += message.data.decode() if message.type is WSMsgType.BINARY else ""
