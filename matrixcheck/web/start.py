"""`matrixcheck serve`: listen, say where, and serve until ended."""

from __future__ import annotations

import asyncio
import logging
import signal
import sys
from collections.abc import Callable, Coroutine
from contextlib import AbstractAsyncContextManager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.web.access import Door, cookie_name
from matrixcheck.web.answering import answering
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.console import Console, announce, on_enter
from matrixcheck.web.devices import Devices, file_beside
from matrixcheck.web.entrance import PATH as ENTRANCE
from matrixcheck.web.entrance import Entrance
from matrixcheck.web.network import LOOPBACK, listening_socket
from matrixcheck.web.page.answering import PhonePage
from matrixcheck.web.page.benches import Benches
from matrixcheck.web.pairing import Pairing
from matrixcheck.web.place import Place
from matrixcheck.web.screens import command_for
from matrixcheck.web.site import Room, Site
from matrixcheck.web.sparse_log import SparseLog
from matrixcheck.web.terminal import Limits, Terminal, address_of
from matrixcheck.web.watch import Watch

if TYPE_CHECKING:
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.web.tls import Certificate


@dataclass(frozen=True)
class Wanted:
    """What is to be served, and where.

    The book; the job to open (None: the bench); the port (0: any); the address in the local network to listen at
    (None: stay on loopback); a folder whose layouts a new job may take; the certificate for https (None: plain http);
    a workshop's own rates of faults; what an earth bond is held to.
    """

    book: Path
    job: str | None
    port: int
    lan: str | None = None
    layouts: Path | None = None
    certificate: Certificate | None = None
    rates: Rates | None = None
    mains_region: EarthLimit = EarthLimit.PLUS_LEAD


def serve(wanted: Wanted, out: TextIO) -> None:
    """Serve the screens of a bench book until SIGINT, SIGTERM or SIGHUP; then every page's process has ended too.

    In the local network only paired devices are let in. UsageError when the job isn't in the book or the port can't be
    had, BookError when the book can't be read, InputError for a certificate or a list of devices that can't be taken.
    """
    bench = Bench(wanted.book)
    bench.jobs()
    check = partial(check_place, bench)
    check(Place(wanted.job))
    tls = wanted.certificate.context() if wanted.certificate else None
    limits, bounds = Limits(), Bounds()
    connections = Connections(bounds)
    benches = Benches(wanted.book, rates=wanted.rates)
    page = PhonePage(benches, layouts=wanted.layouts, mains_region=wanted.mains_region)
    terminal = Terminal(check, partial(command_for, wanted.book, wanted.lan is None, wanted.layouts), limits)
    with listening_socket(wanted.lan or LOOPBACK, wanted.port) as listener:
        door = _door(wanted, *listener.getsockname())
        home = address_of(Place(wanted.job))
        fingerprint = wanted.certificate.fingerprint if wanted.certificate else None
        if wanted.lan is None:
            rooms: tuple[Room, ...] = (page, terminal)
            beside = _say(partial(announce, door.root + home, fingerprint, out))
        else:
            pairing = Pairing()
            console = Console(pairing, f"{door.root}{ENTRANCE}", out, answers=sys.stdin.isatty())
            rooms = (Entrance(door, pairing, home, console.paired), page, terminal)
            beside = _look_after(Watch(door, connections, console.look), console, fingerprint)
        site = Site(door, rooms, connections=connections)
        # What the libraries log goes through it as well.
        logging.getLogger().addHandler(SparseLog(sys.stderr))
        answers = answering(site.application(), listener, connections, bounds, patience=4 * limits.patience, tls=tls)
        asyncio.run(_answer_until_signal(answers, beside))


def _door(wanted: Wanted, address: str, port: int) -> Door:
    """Return who may come in. Raises InputError where the list of devices can't be read."""
    certificate = wanted.certificate
    ours = (address,) if wanted.lan else (address, "localhost")
    named = certificate.names if certificate else ()
    # What is shown as the way in goes by a name that is in the certificate.
    names = ours + named if address in named else named + ours
    devices = Devices(file_beside(wanted.book)) if wanted.lan else None
    if devices is not None:
        devices.listed()
    secure = certificate is not None
    return Door(names, port, cookie_name(wanted.book, secure), devices, secure)


async def _say(announce_it: Callable[[], None]) -> None:
    announce_it()


async def _look_after(watch: Watch, console: Console, fingerprint: str | None) -> None:
    """Show the way in, and look after who may come in, until cancelled."""
    console.greet(fingerprint)
    with on_enter(console.show_code):
        try:
            await watch.run()
        finally:
            await watch.keep_seen()


async def _answer_until_signal(answers: AbstractAsyncContextManager[None], beside: Coroutine[Any, Any, None]) -> None:
    """Answer until a signal asks this process to end, and do what goes on beside that once answers can be had."""
    ending = asyncio.Event()
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        asyncio.get_running_loop().add_signal_handler(number, ending.set)
    async with answers:
        running = asyncio.create_task(beside)
        await ending.wait()
        running.cancel()
        with suppress(asyncio.CancelledError):
            await running


def check_place(bench: Bench, place: Place) -> None:
    """Raise UsageError when the job isn't in the book, or the matrix isn't in the job."""
    if place.job is None:
        return
    matrices = [matrix.id for matrix in bench.state(place.job).layout.matrices]
    if place.matrix is not None and place.matrix not in matrices:
        raise UsageError(f"job {place.job} has no matrix {place.matrix!r}", f"it has {', '.join(matrices)}")
