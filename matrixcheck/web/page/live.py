"""Events to the phones as they happen: that a job changed, and each second that the line is up."""

from __future__ import annotations

import asyncio
from contextlib import suppress

from aiohttp import web

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.web.page.benches import Benches

LOOK_SECONDS = 0.1
BEAT_SECONDS = 1.0

_Stream = asyncio.Queue[int | None]


class Live:
    """The open streams, and the one task that looks at the book while there are any."""

    def __init__(self, benches: Benches) -> None:
        self._benches = benches
        self._streams: dict[_Stream, str] = {}
        self._looking: asyncio.Task[None] | None = None

    async def stream(self, request: web.Request) -> web.StreamResponse:
        """Answer with server-sent events: `seq` with the last event of the job, `beat` each second in between."""
        answer = web.StreamResponse(headers={"Content-Type": "text/event-stream"})
        await answer.prepare(request)
        news: _Stream = asyncio.Queue()
        self._streams[news] = request.query.get("job", "")
        if self._looking is None:
            self._looking = asyncio.create_task(self._look())
        try:
            with suppress(ConnectionError):
                await _tell(answer, news)
        finally:
            del self._streams[news]
        return answer

    async def close(self) -> None:
        """End every stream."""
        for news in self._streams:
            news.put_nowait(None)
        if self._looking is not None:
            self._looking.cancel()
            with suppress(asyncio.CancelledError):
                await self._looking

    async def _look(self) -> None:
        """Look at the book until nobody listens any more."""
        bench = await asyncio.to_thread(self._benches.watch)
        told: set[_Stream] = set()
        try:
            while self._streams:
                listening = dict(self._streams)
                fresh = not told.issuperset(listening)
                seqs = await asyncio.to_thread(_news, bench, frozenset(listening.values()), fresh)
                for news, job in listening.items():
                    if job in seqs:
                        news.put_nowait(seqs[job])
                told = set(listening)
                await asyncio.sleep(LOOK_SECONDS)
        finally:
            self._looking = None
            bench.close()


def _news(bench: Bench, jobs: frozenset[str], anyway: bool) -> dict[str, int]:
    """Return the last event of each job if anything was written, or `anyway`; of a book in trouble nothing."""
    found = {}
    with suppress(MatrixCheckError):
        if bench.changed() or anyway:
            for job in jobs - {""}:
                with suppress(MatrixCheckError):
                    found[job] = bench.state(job).seq
    return found


async def _tell(answer: web.StreamResponse, news: _Stream) -> None:
    said = 0
    await answer.write(b"retry: 1000\nevent: beat\ndata:\n\n")
    while True:
        try:
            seq = await asyncio.wait_for(news.get(), BEAT_SECONDS)
        except TimeoutError:
            await answer.write(b"event: beat\ndata:\n\n")
            continue
        if seq is None:
            return
        if seq != said:
            said = seq
            await answer.write(f"event: seq\ndata: {seq}\n\n".encode())
