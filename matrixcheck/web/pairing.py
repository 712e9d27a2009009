"""The one-time code by which a device comes in: it is shown, and used up or ended."""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

LIFETIME = 600.0


def fresh_secret() -> str:
    """Return 128 bits from the operating system, as 22 characters that need no escaping in an address."""
    return secrets.token_urlsafe(16)


class Pairing:
    """The code of the moment, if there is one. `clock` gives seconds, and a code lives for `lifetime` of them."""

    def __init__(self, clock: Callable[[], float] = time.monotonic, lifetime: float = LIFETIME) -> None:
        self._clock = clock
        self._lifetime = lifetime
        self._code: str | None = None
        self._ends = 0.0
        self._users = 0

    @property
    def open(self) -> bool:
        """Return whether there is a code that is neither used nor ended."""
        return self._code is not None and self._clock() < self._ends

    @property
    def over(self) -> bool:
        """Return whether there is no such code, and nobody is just being paired by the one that was used."""
        return not self.open and not self._users

    def fresh(self) -> str:
        """Return a fresh code to show; one from before ends with that."""
        self._code, self._ends = fresh_secret(), self._clock() + self._lifetime
        return self._code

    def takes(self, given: str) -> bool:
        """Return whether this is the code of the moment. The time that it takes doesn't tell how much of it agrees."""
        code = self._code
        return self.open and code is not None and hmac.compare_digest(given.encode(errors="replace"), code.encode())

    def use(self, given: str) -> bool:
        """Use up the code, where this is it; return whether it was."""
        if not self.takes(given):
            return False
        self._code = None
        return True

    @contextmanager
    def using(self, given: str) -> Iterator[bool]:
        """Use up the code, where this is it, for what is done with it meanwhile; yield whether it was."""
        good = self.use(given)
        self._users += good
        try:
            yield good
        finally:
            self._users -= good
