"""How soon a second page sees a mark: two pages of `matrixcheck serve` on one job, through real sockets.

The figure to reach: at most 0.3 s from the key that keeps a mark on one page to its drawing on the other.
"""

from __future__ import annotations

import argparse
import asyncio
import re
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from aiohttp import ClientSession, ClientWebSocketResponse, WSMsgType

from matrixcheck.bench import Bench
from tests.bench.screens import new_book, plain

MOST_SECONDS = 0.3
PATIENCE_SECONDS = 30.0
SIZE = "width=100&height=32"


async def read_until(page: ClientWebSocketResponse, pattern: str) -> float:
    """Read what a page is sent until it shows something; the time at which it did."""
    said = b""
    async with asyncio.timeout(PATIENCE_SECONDS):
        async for message in page:
            if message.type is WSMsgType.BINARY:
                said += message.data
                if re.search(pattern, plain(said)):
                    return time.perf_counter()
    raise RuntimeError(f"{pattern!r} never came; the last that did: {plain(said)[-400:]!r}")


async def served(book: str) -> tuple[asyncio.subprocess.Process, str]:
    """A server on a free port of the loopback, and where it is."""
    command = (sys.executable, "-m", "matrixcheck.cli.main", "serve", "--book", book, "--port", "0")
    server = await asyncio.create_subprocess_exec(*command, stdout=asyncio.subprocess.PIPE)
    assert server.stdout is not None
    said = ""
    async with asyncio.timeout(PATIENCE_SECONDS):
        while not (found := re.search(r"http://[\w.:]+", said)):
            said += (await server.stdout.readline()).decode()
    return server, found[0]


async def measure(book: str, job: str, numbers: Sequence[int]) -> list[float]:
    """Seconds from key to drawing, for marks made on the two pages in turn."""
    server, root = await served(book)
    try:
        async with ClientSession(headers={"Origin": root}) as session:
            address = f"{root}/screens?job={job}&matrix=switches&{SIZE}"
            pages = [await session.ws_connect(address, max_msg_size=0) for _ in range(2)]
            for page in pages:
                await read_until(page, "number and Enter")
            found = []
            for count, number in enumerate(numbers):
                one, other = pages[count % 2], pages[(count + 1) % 2]
                began = time.perf_counter()
                await one.send_json(["stdin", f"{number}-\r"])
                seen = await read_until(other, rf"{number} ✗")
                found.append(seen - began)
                await read_until(one, rf"{number} ✗")
            return found
    finally:
        server.terminate()
        await server.wait()


def main(argv: list[str]) -> int:
    """Measure and print; 1 when the figure is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench clients", description=__doc__)
    parser.add_argument("--marks", type=int, default=24, help="marks to make")
    marks = parser.parse_args(argv).marks
    with tempfile.TemporaryDirectory() as folder:
        book, job = new_book(Path(folder))
        cells = Bench(Path(book)).state(job).layout.matrix("switches").fitted
        untested = [cell.number for cell in cells if cell.key.column > 2]
        found = asyncio.run(measure(book, job, untested[:marks]))
    worst = max(found)
    print(f"seen by the other page after {statistics.median(found):.2f} s, at worst {worst:.2f} s (at most 0.3)")
    return int(worst > MOST_SECONDS)
