"""Who may come in: judged by the name that was asked for, by the page that asks, and by token where one is set.

The check of the name (Host) keeps out a foreign site whose own name was pointed at this computer; the check of the
asking page (Origin) keeps out a foreign page that talks to this address from the same browser.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field


def fresh_secret() -> str:
    """Return 128 bits from the operating system, as 22 characters that need no escaping in an address."""
    return secrets.token_urlsafe(16)


def same_secret(given: str, kept: str) -> bool:
    """Return whether two secrets are equal, in a time that doesn't tell how much of them agrees."""
    return hmac.compare_digest(given.encode("utf-8", "surrogateescape"), kept.encode())


@dataclass(frozen=True)
class Door:
    """The names this server answers to, the port, and the token that the first visit must bring (None: no token).

    `ticket` is what a browser that brought the token keeps as its session cookie; both live as long as the server.
    """

    names: tuple[str, ...]
    port: int
    token: str | None = None
    ticket: str = field(default_factory=fresh_secret)

    @property
    def cookie(self) -> str:
        """Return the cookie's name. Cookies aren't kept apart by port, so the port is part of it."""
        return f"matrixcheck-{self.port}"

    @property
    def hosts(self) -> frozenset[str]:
        """Return what the Host header may say. Browsers leave out the port where it is the protocol's own."""
        with_port = {f"{name}:{self.port}" for name in self.names}
        return frozenset(with_port | (set(self.names) if self.port == 80 else set()))

    def answers_to(self, hosts: Sequence[str]) -> bool:
        """Return whether a request's Host headers, of which there must be exactly one, name this server."""
        return len(hosts) == 1 and hosts[0].lower() in self.hosts

    def asked_from_here(self, origins: Sequence[str], host: str, required: bool) -> bool:
        """Return whether a request's Origin headers are those of our own page.

        Where not `required` there may be none.
        """
        if not origins:
            return not required
        return len(origins) == 1 and origins[0].lower() == f"http://{host.lower()}"

    def takes_token(self, token: str) -> bool:
        """Return whether this is the token of this start."""
        return self.token is not None and same_secret(token, self.token)

    def knows(self, ticket: str | None) -> bool:
        """Return whether a browser that shows this cookie has been let in before; without a token everybody has."""
        return self.token is None or (ticket is not None and same_secret(ticket, self.ticket))
