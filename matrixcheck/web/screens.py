"""The process behind one page: the terminal screens, reached through textual-serve's packets on stdin and stdout."""

from __future__ import annotations

import asyncio
import json
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

from textual_serve.app_service import AppService
from textual_serve.download_manager import DownloadManager

from matrixcheck.web.place import Place

DRIVER = "matrixcheck.tui.browser:PageDriver"

COLUMNS, ROWS = (20, 400), (10, 200)


@dataclass(frozen=True)
class Page:
    """The two ways to the browser: characters for the terminal, and messages to the page around it."""

    show: Callable[[bytes], Awaitable[None]]
    tell: Callable[[str], Awaitable[None]]


def command_for(book: Path, own_layouts: bool, layouts: Path | None, place: Place, key: str) -> tuple[str, ...]:
    """Give the command that runs the screens on a bench book.

    A new job may take a layout that comes with the program or lies in the folder `layouts`; with `own_layouts` it may
    name any file. `key` is the page's own: the same page comes back into the round that it left.

    The folder it is started in can't slip a module in (-P).
    """
    program = (sys.executable, "-P", "-m", "matrixcheck.web.child")
    files, folder = "any" if own_layouts else "listed", "" if layouts is None else str(layouts)
    return (*program, files, folder, str(book), place.job or "", place.matrix or "", key)


class Screens(AppService):
    """One running copy of the screens. `start` it, wait until it `ended`, and `stop` it in any case.

    `patience` is how many seconds it gets at each step of stopping: asked to quit, sent SIGTERM, killed.
    """

    def __init__(self, command: Sequence[str], page: Page, patience: float) -> None:
        super().__init__(
            command="",
            write_bytes=page.show,
            write_str=page.tell,
            close=self._quit_by_itself,
            download_manager=DownloadManager(),
        )
        self.closed_by_user = False
        self._arguments = tuple(command)
        self._patience = patience

    async def start(self, width: int, height: int) -> None:
        """Start the process for a terminal of this many columns and rows, kept within reason."""
        await super().start(within(width, COLUMNS), within(height, ROWS))

    async def ended(self) -> None:
        """Wait until the process says no more, however it came to that."""
        if self._task is not None:
            await asyncio.shield(self._task)

    async def set_terminal_size(self, width: int, height: int) -> None:
        """Tell the process about a new size, kept within reason."""
        await super().set_terminal_size(within(width, COLUMNS), within(height, ROWS))

    async def stop(self) -> None:
        """End the process: by asking, else by SIGTERM, else by force. What it recorded is in the book already."""
        process = self._process
        if process is None:
            return
        for harder in (process.terminate, process.kill):
            try:
                async with asyncio.timeout(self._patience):
                    await self.send_meta({"type": "quit"})
                    await process.wait()
                break
            except TimeoutError:
                harder()
        await process.wait()
        await self.ended()
        await self._close_pipes(process)

    async def on_data(self, payload: bytes) -> None:
        """Pass on characters for the terminal.

        Once the page has gone they go nowhere, so that the process isn't held up.
        """
        await self._unless_gone(self.remote_write_bytes(payload))

    async def on_meta(self, data: bytes) -> None:
        """Take a message from the process: that it ends by itself, or where it is. Anything else isn't for a page."""
        message = json.loads(data)
        if message["type"] == "exit":
            await self.remote_close()
        elif message["type"] == "place":
            place = Place(message["job"], message["matrix"])
            await self._unless_gone(self.remote_write_str(json.dumps(["place", asdict(place)])))

    async def on_packed(self, payload: bytes) -> None:
        """Ignore a part of a file to download: the screens offer none."""

    async def _open_app_process(self, width: int = 80, height: int = 24) -> Process:
        environment = self._build_environment(width=width, height=height)
        environment["TEXTUAL_DRIVER"] = DRIVER
        # In a session of its own: Ctrl+C in the server's terminal is the server's to deal with.
        self._process = await asyncio.create_subprocess_exec(
            *self._arguments, stdin=PIPE, stdout=PIPE, stderr=PIPE, env=environment, start_new_session=True
        )
        self._stdin = self._process.stdin
        return self._process

    async def _close_pipes(self, process: Process) -> None:
        """Let go of the process's pipes, of which stderr was perhaps not read to its end."""
        if process.stdin is not None:
            process.stdin.close()
        if process.stderr is not None:
            await process.stderr.read()

    async def _quit_by_itself(self) -> None:
        self.closed_by_user = True

    async def _unless_gone(self, sending: Awaitable[None]) -> None:
        try:
            await sending
        except ConnectionError:
            return


def within(number: int, limits: tuple[int, int]) -> int:
    """Return the number, or the limit that it passes."""
    return max(limits[0], min(number, limits[1]))
