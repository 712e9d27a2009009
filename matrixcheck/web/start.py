"""`matrixcheck serve`: listen, say where, and serve until ended."""

from __future__ import annotations

import asyncio
import io
import logging
import os
import signal
import sys
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TextIO

import segno

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.web.access import Door, fresh_secret
from matrixcheck.web.answering import answering
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.network import LOOPBACK, listening_socket
from matrixcheck.web.page.answering import PhonePage
from matrixcheck.web.page.benches import Benches
from matrixcheck.web.place import Place
from matrixcheck.web.screens import command_for
from matrixcheck.web.site import Site
from matrixcheck.web.sparse_log import SparseLog
from matrixcheck.web.terminal import Limits, Terminal, address_of

CAUTION = (
    "Caution: this is plain http in your local network, so use it only where you trust everybody: whoever gets hold of "
    "this address can read this book and mark in it."
)


@dataclass(frozen=True)
class Wanted:
    """What is to be served, and where.

    The book; the job to open (None: the bench); the port (0: any); the address in the local network to listen at
    (None: stay on loopback); a folder whose layouts a new job may take.
    """

    book: Path
    job: str | None
    port: int
    lan: str | None
    layouts: Path | None


def serve(wanted: Wanted, out: TextIO) -> None:
    """Serve the screens of a bench book until SIGINT, SIGTERM or SIGHUP; then every page's process has ended too.

    In the local network there is a token made afresh. UsageError when the job isn't in the book or the port can't be
    had, BookError when the book can't be read.
    """
    home, lan = Place(wanted.job), wanted.lan
    bench = Bench(wanted.book)
    bench.jobs()
    check = partial(check_place, bench)
    check(home)
    limits = Limits()
    with listening_socket(lan or LOOPBACK, wanted.port) as listener:
        address, port = listener.getsockname()
        if lan:
            door = Door((address,), port, token=fresh_secret())
            way_in = f"http://{address}:{port}/in/{door.token}"
        else:
            door = Door((address, "localhost"), port)
            way_in = f"http://{address}:{port}{address_of(home)}"
        bounds = Bounds()
        connections = Connections(bounds)
        command = partial(command_for, wanted.book, lan is None, wanted.layouts)
        rooms = (PhonePage(Benches(wanted.book)), Terminal(check, command, limits))
        site = Site(door, address_of(home), rooms, connections=connections)
        # What the libraries log goes through it as well.
        logging.getLogger().addHandler(SparseLog(sys.stderr))
        answers = answering(site.application(), listener, connections, bounds, patience=4 * limits.patience)
        asyncio.run(_answer_until_signal(answers, partial(announce, way_in, lan is not None, out)))


async def _answer_until_signal(answers: AbstractAsyncContextManager[None], announce_it: Callable[[], None]) -> None:
    """Answer until a signal asks this process to end; `announce_it` once answers can be had."""
    ending = asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        asyncio.get_running_loop().add_signal_handler(number, ending.set)
    async with answers:
        announce_it()
        await ending.wait()


def check_place(bench: Bench, place: Place) -> None:
    """Raise UsageError when the job isn't in the book, or the matrix isn't in the job."""
    if place.job is None:
        return
    matrices = [matrix.id for matrix in bench.state(place.job).layout.matrices]
    if place.matrix is not None and place.matrix not in matrices:
        raise UsageError(f"job {place.job} has no matrix {place.matrix!r}", f"it has {', '.join(matrices)}")


def announce(way_in: str, to_others: bool, out: TextIO) -> None:
    """Say where the screens are; to those who come from other devices also as a QR code, and with a caution."""
    if to_others:
        out.write(qr_code(way_in, inked=out.isatty() and "NO_COLOR" not in os.environ))
    out.write(f"matrixcheck is at {way_in}\n")
    if to_others:
        out.write(f"{CAUTION}\n")
    out.write("Ctrl+C ends it.\n")
    out.flush()


def qr_code(text: str, inked: bool) -> str:
    """Return the QR code (ISO/IEC 18004) of a text in half blocks: two of its rows a line, a block where it is light.

    `inked` sets white on black, so that it is the right way round in a light terminal as well.
    """
    drawn = io.StringIO()
    segno.make(text, micro=False).terminal(drawn, compact=True)
    lines = drawn.getvalue().splitlines()
    frame: Callable[[str], str] = "\x1b[97;40m{}\x1b[0m\n".format if inked else "{}\n".format
    return "".join(frame(line) for line in lines)
