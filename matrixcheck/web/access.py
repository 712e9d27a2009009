"""Who may come in: judged by the name that was asked for, by the page that asks, and by the device's cookie.

The check of the name (Host) keeps out a foreign site whose own name was pointed at this computer; the check of the
asking page (Origin) keeps out a foreign page that talks to this address from the same browser.
"""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from matrixcheck.errors import InputError
from matrixcheck.web.devices import Devices

ANYBODY = 0
"""Who comes in where nobody is asked for a cookie; paired devices have numbers from 1 on."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Door:
    """The names this server answers to, its port, and who is let in: paired devices only, or anybody (None).

    `cookie` is the name of the cookie with a device's secret; `secure` says that this is https.
    """

    names: tuple[str, ...]
    port: int
    cookie: str = "matrixcheck"
    devices: Devices | None = None
    secure: bool = False

    @property
    def scheme(self) -> str:
        """Return how an address of this server begins."""
        return "https" if self.secure else "http"

    @property
    def root(self) -> str:
        """Return the address of this server, by the first of its names."""
        return f"{self.scheme}://{self.names[0]}:{self.port}"

    @property
    def hosts(self) -> frozenset[str]:
        """Return what the Host header may say. Browsers leave out the port where it is the protocol's own."""
        with_port = {f"{name}:{self.port}" for name in self.names}
        return frozenset(with_port | (set(self.names) if self.port == (443 if self.secure else 80) else set()))

    def answers_to(self, hosts: Sequence[str]) -> bool:
        """Return whether a request's Host headers, of which there must be exactly one, name this server."""
        return len(hosts) == 1 and hosts[0].lower() in self.hosts

    def asked_from_here(self, origins: Sequence[str], host: str, required: bool) -> bool:
        """Return whether a request's Origin headers are those of our own page.

        Where not `required` there may be none.
        """
        if not origins:
            return not required
        return len(origins) == 1 and origins[0].lower() == f"{self.scheme}://{host.lower()}"

    def holder_of(self, secret: str | None) -> int | None:
        """Return the number of the device that shows this secret; None for a stranger."""
        if self.devices is None:
            return ANYBODY
        if not secret:
            return None
        try:
            device = self.devices.holder_of(secret)
        except InputError as error:
            _log.warning("%s", error)
            return None
        return device.id if device else None

    def known(self) -> frozenset[int]:
        """Return the numbers of those who may come in now."""
        if self.devices is None:
            return frozenset({ANYBODY})
        try:
            return frozenset(each.id for each in self.devices.listed())
        except InputError:
            return frozenset()


def cookie_name(book: Path, secure: bool) -> str:
    """Return the name of the cookie for a book: browsers keep cookies apart by neither port nor scheme, so it must.

    `__Host-` has a browser refuse the cookie where it isn't Secure, or is for other hosts as well.
    """
    name = f"matrixcheck-{hashlib.sha256(str(book.resolve()).encode(errors='surrogateescape')).hexdigest()[:8]}"
    return f"__Host-{name}" if secure else name
