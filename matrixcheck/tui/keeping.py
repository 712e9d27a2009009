"""What goes into the book, and what is read from it, beside the screens: one thread, and one queue in order.

An entry that the book doesn't take, because another program holds it, its disk is full or its file has gone, stays at
the head of the queue and is tried again until it is kept or dropped by hand. What comes after it waits behind it.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable, Coroutine
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, TypeVar

from matrixcheck.errors import BookError, MatrixCheckError

Answer = TypeVar("Answer")

AGAIN_SECONDS = 0.5
"""Seconds from a try to keep something to the next."""


def _nothing(*_: object) -> None:
    pass


class Entry:
    """Something of a job on its way into the book.

    `words` for it, and what is done when it is kept, refused or dropped.
    """

    def __init__(
        self,
        job: str,
        words: str,
        keep: Callable[[], Any],
        *,
        kept: Callable[[Any], object] = _nothing,
        refused: Callable[[MatrixCheckError], object] = _nothing,
        dropped: Callable[[], object] = _nothing,
    ) -> None:
        """`keep` runs in the thread of the queue, the others on the event loop."""
        self.job = job
        self.words = words
        self.keep = keep
        self.kept = kept
        self.refused = refused
        self.dropped = dropped
        self.unwanted = False


class Keeping:
    """The queue into one book.

    `start` runs a coroutine beside the screens; `changed` is called when what waits, or why, has changed, and `kept`
    after an entry was kept and that was said.
    """

    def __init__(
        self,
        start: Callable[[Coroutine[Any, Any, None]], object],
        changed: Callable[[], None],
        kept: Callable[[], None],
    ) -> None:
        self._start = start
        self._changed = changed
        self._kept = kept
        self._thread = ThreadPoolExecutor(1, "book")
        self._entries: deque[Entry] = deque()
        self._attempt: Future[Any] | None = None
        self._runs = False
        self._again = asyncio.Event()
        self._last: Entry | None = None
        self._seen: Entry | None = None
        self.trouble: MatrixCheckError | None = None

    @property
    def busy(self) -> bool:
        """Return whether anything is on its way into the book."""
        return bool(self._entries)

    @property
    def waiting(self) -> tuple[str, ...]:
        """Return the words of all entries that wait, in their order; none while the book takes them at once."""
        return tuple(one.words for one in self._entries) if self._seen is not None or self.trouble else ()

    @property
    def jobs(self) -> frozenset[str]:
        """Return the jobs of all entries on their way."""
        return frozenset(one.job for one in self._entries)

    def add(self, entry: Entry) -> None:
        """Put an entry at the end of the queue."""
        self._entries.append(entry)
        if self.waiting:
            self._changed()
        if not self._runs:
            self._runs = True
            self._start(self._run())

    def look(self) -> None:
        """Take note of an entry that was at the head of the queue at the last look already: it is shown from now on."""
        head = self._entries[0] if self._entries else None
        before, self._seen = self.waiting, head if head is self._last else None
        self._last = head
        if self.waiting != before:
            self._changed()

    def try_again(self) -> None:
        """Try at once."""
        self._again.set()

    def drop_last(self) -> None:
        """Drop the entry made last. One that is being tried is dropped once that has failed."""
        if not self._entries:
            return
        last = self._entries[-1]
        if self._attempt is not None and last is self._entries[0]:
            last.unwanted = True
        else:
            self._entries.pop()
            self._drop(last)
        self._again.set()

    async def ask(self, question: Callable[[], Answer]) -> Answer:
        """Have something read from the book, after what was asked before. Raises what the question raises."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, question)

    def close(self) -> tuple[str, ...]:
        """Try all that waits a last time, in its order, and end the thread; the words of what couldn't be kept."""
        self._thread.shutdown()
        attempt = self._attempt
        if attempt is not None and not attempt.cancelled() and not isinstance(attempt.exception(), BookError):
            self._entries.popleft()
        while self._entries:
            try:
                self._entries[0].keep()
            except BookError as error:
                self.trouble = error
                break
            except MatrixCheckError:
                pass
            self._entries.popleft()
        return tuple(one.words for one in self._entries)

    async def _run(self) -> None:
        while self._entries:
            head = self._entries[0]
            self._attempt = self._thread.submit(head.keep)
            try:
                answer = await asyncio.wrap_future(self._attempt)
            except BookError as error:
                self._attempt = None
                await self._wait(head, error)
            except MatrixCheckError as error:
                self._leave()
                head.refused(error)
            else:
                self._leave()
                head.kept(answer)
                self._kept()
        self._runs = False

    async def _wait(self, head: Entry, error: BookError) -> None:
        """Say why the head of the queue waits, and let some time go by."""
        if head.unwanted:
            self._entries.popleft()
            self._drop(head)
            return
        news = str(error) != str(self.trouble)
        self.trouble = error
        if news:
            self._changed()
        self._again.clear()
        try:
            async with asyncio.timeout(AGAIN_SECONDS):
                await self._again.wait()
        except TimeoutError:
            pass

    def _leave(self) -> None:
        """Take the head of the queue out of it."""
        shown = bool(self.waiting)
        self._attempt = None
        self._entries.popleft()
        self.trouble = self._seen = None
        if shown:
            self._changed()

    def _drop(self, entry: Entry) -> None:
        if not self._entries:
            self.trouble = self._seen = None
        entry.dropped()
        self._changed()
