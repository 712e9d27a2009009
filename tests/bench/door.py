"""`python -m tests.bench door`: how soon a paired phone's mark is kept while strangers flood the server.

Each flood stands against a server of its own, `matrixcheck serve --lan` on this computer. The table gives the time from
sending a mark to "kept", the memory that the server took beyond what it had before, and the lines on its terminal.
"""

from __future__ import annotations

import argparse
import asyncio
import resource
import secrets
import socket
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from multiprocessing import get_context
from multiprocessing.synchronize import Event
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import SplitResult, urlsplit

from aiohttp import ClientSession, CookieJar, TCPConnector

from matrixcheck.bench import Bench
from tests.bench.tally import table
from tests.machines import saltmarsh_tram

Flood = Callable[[int, str, ExitStack], None]
"""Says something to a port of this computer, of a server at an address; what it opens stays open in the stack."""


def main(argv: list[str]) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser("python -m tests.bench door", description=__doc__)
    parser.add_argument("--marks", type=int, default=40)
    options = parser.parse_args(argv)
    rows = [(name, *asyncio.run(_measured(flood, options.marks))) for name, flood in FLOODS.items()]
    head = ("flood", "median ms", "slowest ms", "memory MiB", "stdout lines", "stderr lines")
    table("A paired phone's mark, from sending to kept", rows, head)
    return 0


def none(_port: int, _root: str, _held: ExitStack) -> None:
    """Leave the server in peace."""


def silent(port: int, _root: str, held: ExitStack) -> None:
    """Open 1,500 connections that say nothing or half a request."""
    for number in range(1500):
        held.enter_context(_said(port, b"GET / HTTP/1.1\r\nHost: x\r\n" * (number % 2)))


def malformed(port: int, _root: str, held: ExitStack) -> None:
    """Send 200 requests that are none."""
    for _ in range(200):
        held.enter_context(_said(port, b"GET / HTTP/1.1\r\nHost \x1b[2J\r\n\r\n"))


def slow_bodies(port: int, root: str, held: ExitStack) -> None:
    """Begin 200 bodies that never end."""
    head = f"POST /in/x HTTP/1.1\r\nHost: {urlsplit(root).netloc}\r\nOrigin: {root}\r\nContent-Length: 1000\r\n\r\n"
    for _ in range(200):
        held.enter_context(_said(port, head.encode() + b"name="))


def large_bodies(port: int, root: str, held: ExitStack) -> None:
    """Send 50 bodies that are said to have a gigabyte."""
    head = f"POST /in/x HTTP/1.1\r\nHost: {urlsplit(root).netloc}\r\nOrigin: {root}\r\nContent-Length: {10**9}\r\n\r\n"
    for _ in range(50):
        held.enter_context(_said(port, head.encode() + b"x" * 100_000))


def guesses(port: int, root: str, held: ExitStack) -> None:
    """Guess 500 codes."""
    head = f"Host: {urlsplit(root).netloc}\r\nOrigin: {root}\r\nContent-Length: 0\r\n\r\n"
    for _ in range(500):
        held.enter_context(_said(port, f"POST /in/{secrets.token_urlsafe(16)} HTTP/1.1\r\n{head}".encode()))


FLOODS: dict[str, Flood] = {
    "none": none,
    "1,500 silent connections": silent,
    "200 malformed requests": malformed,
    "200 slow bodies": slow_bodies,
    "50 bodies of a gigabyte": large_bodies,
    "500 guessed codes": guesses,
}


def _said(port: int, sends: bytes) -> socket.socket:
    stranger = socket.create_connection(("127.0.0.1", port), 30)
    # One that is cut off is what the server should do.
    with suppress(OSError):
        stranger.sendall(sends)
    return stranger


@contextmanager
def _flooded(flood: Flood, port: int, root: str) -> Iterator[None]:
    """Flood over and over, from a process of its own, so that it holds up nothing but the server."""
    spawning = get_context("spawn")
    over = spawning.Event()
    flooding = spawning.Process(target=_flood, args=(flood, port, root, over))
    flooding.start()
    try:
        yield
    finally:
        over.set()
        flooding.join()


def _flood(flood: Flood, port: int, root: str, over: Event) -> None:
    _open_many()
    while not over.is_set():
        with ExitStack() as held:
            flood(port, root, held)
            over.wait(0.2)


def _open_many() -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, max(soft, 4000)), hard))


async def _measured(flood: Flood, marks: int) -> tuple[str, ...]:
    with TemporaryDirectory() as name, (Path(name) / "stderr").open("w+") as stderr:
        book = Path(name) / "bench.book"
        job = Bench(book).new_job(saltmarsh_tram(), "flooded")
        command = [sys.executable, "-m", "matrixcheck.cli.main", "serve", "--book", str(book)]
        server = subprocess.Popen(
            [*command, "--lan", "--address", "127.0.0.1", "--port", "0"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=stderr, text=True,
        )  # fmt: skip
        assert server.stdout is not None
        said = iter(server.stdout.readline, "")
        way_in = urlsplit(next(line.split()[-1] for line in said if "/in/" in line))
        try:
            took, memory = await _marked(flood, marks, way_in, job, server.pid)
        finally:
            server.terminate()
        lines = len(server.stdout.readlines())
        server.wait()
        stderr.seek(0)
        middle, slowest = 1000 * statistics.median(took), 1000 * max(took)
        return f"{middle:.0f}", f"{slowest:.0f}", f"{memory:.0f}", str(lines), str(len(stderr.readlines()))


async def _marked(flood: Flood, marks: int, way_in: SplitResult, job: str, server: int) -> tuple[list[float], float]:
    """Return how long each mark took, in seconds, and the memory that the server took meanwhile, in MiB."""
    root = f"http://{way_in.netloc}"
    own = {"Origin": root}
    took = []
    connector = TCPConnector(force_close=True)  # each mark has to come in anew
    async with ClientSession(root, connector=connector, cookie_jar=CookieJar(unsafe=True)) as phone:
        assert (await phone.post(way_in.path, data={"name": "phone"}, headers=own)).status == 200
        assert (await phone.get(f"/job/{job}")).status == 200
        before = _peak(server)
        numbers = _numbers()
        with _flooded(flood, way_in.port or 80, root):
            await asyncio.sleep(3)  # until it is started, and has begun
            for each in range(marks):
                entry = {
                    "client": "00112233aabbccdd",
                    "send": f"send {each}",
                    "text": f"{numbers[each % len(numbers)]}-",
                }
                began = time.perf_counter()
                async with phone.post(f"/job/{job}/switches/mark", json=entry, headers=own) as answer:
                    assert answer.status == 200, await answer.text()
                took.append(time.perf_counter() - began)
                await asyncio.sleep(0.1)
        return took, (_peak(server) - before) / 1024


def _numbers() -> list[int]:
    """Return the numbers of the switches."""
    cells = saltmarsh_tram().matrix("switches").fitted
    return [cell.number for cell in cells if cell.number is not None]


def _peak(process: int) -> int:
    """Return the most memory that a process had, in KiB."""
    status = Path(f"/proc/{process}/status").read_text("utf-8")
    return int(status.partition("VmHWM:")[2].split()[0])
