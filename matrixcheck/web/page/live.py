"""Events to the phones as they happen: that a job or its answer changed, and each second that the line is up."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import NamedTuple

from aiohttp import web

from matrixcheck.bench import Bench
from matrixcheck.errors import MatrixCheckError
from matrixcheck.web.page.benches import Benches

LOOK_SECONDS = 0.1
BEAT_SECONDS = 1.0
MOST_STREAMS = 24


class News(NamedTuple):
    """The last event of a job, and which answer to it is the newest."""

    seq: int
    answer: int


class Listener(NamedTuple):
    """Who listens, by the phone's own name, and to which job."""

    client: str
    job: str


_Stream = asyncio.Queue[News | None]


class Live:
    """The open streams, and the one task that looks at the book while there are any.

    `answer` gives a number that grows with each better answer to a job.
    """

    def __init__(self, benches: Benches, answer: Callable[[str], int]) -> None:
        self._benches = benches
        self._answer = answer
        self._streams: dict[_Stream, Listener] = {}
        self._looking: asyncio.Task[None] | None = None

    def has_room_for(self, client: str) -> bool:
        """Return whether a phone may open a page: others have not taken all there is, or it has one already."""
        return len(self._streams) < MOST_STREAMS or any(each.client == client for each in self._streams.values())

    async def stream(self, client: str, request: web.Request) -> web.StreamResponse:
        """Answer with server-sent events: `seq` with the last event of the job, `answer` with the number of its newest
        answer, `beat` each second in between."""
        answer = web.StreamResponse(headers={"Content-Type": "text/event-stream"})
        news: _Stream = asyncio.Queue()
        # A phone may go at any moment, even before the first word.
        with suppress(ConnectionError):
            await answer.prepare(request)
            self._streams[news] = Listener(client, request.query.get("job", ""))
            if self._looking is None:
                self._looking = asyncio.create_task(self._look())
            try:
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
        seqs: dict[str, int] = {}
        told: dict[_Stream, News] = {}
        try:
            while self._streams:
                listening = dict(self._streams)
                fresh = not told.keys() >= listening.keys()
                seqs |= await asyncio.to_thread(_news, bench, frozenset(each.job for each in listening.values()), fresh)
                now = {stream: News(seqs.get(job, 0), self._answer(job)) for stream, (_, job) in listening.items()}
                for stream, news in now.items():
                    if news != told.get(stream):
                        stream.put_nowait(news)
                told = now
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
    said = News(0, 0)
    await answer.write(b"retry: 1000\nevent: beat\ndata:\n\n")
    while True:
        try:
            now = await asyncio.wait_for(news.get(), BEAT_SECONDS)
        except TimeoutError:
            await answer.write(b"event: beat\ndata:\n\n")
            continue
        if now is None:
            return
        for name in News._fields:
            number = getattr(now, name)
            if number != getattr(said, name):
                await answer.write(f"event: {name}\ndata: {number}\n\n".encode())
        said = now
