"""What a server in the local network looks after while it answers: who was forgotten, who is there, the code's end."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable

from matrixcheck.errors import MatrixCheckError
from matrixcheck.web.access import Door
from matrixcheck.web.connections import Connections

LOOK_SECONDS = 0.25
KEEP_SECONDS = 60.0

_log = logging.getLogger(__name__)


class Watch:
    """Looks at the paired devices: whoever is forgotten loses every connection at once. `also` is done each time."""

    def __init__(self, door: Door, connections: Connections, also: Callable[[], object]) -> None:
        self._door = door
        self._connections = connections
        self._also = also

    def look(self) -> None:
        """Look once."""
        self._connections.keep_only(self._door.known())
        self._also()

    async def keep_seen(self) -> None:
        """Keep in the file who is there now, and who was."""
        devices = self._door.devices
        if devices is None:
            return
        devices.note(self._connections.holders())
        try:
            await asyncio.to_thread(devices.keep_seen)
        except MatrixCheckError as error:
            _log.warning("%s", error)

    async def run(self) -> None:
        """Look until cancelled."""
        while True:
            for _ in range(round(KEEP_SECONDS / LOOK_SECONDS)):
                self.look()
                await asyncio.sleep(LOOK_SECONDS)
            await self.keep_seen()
