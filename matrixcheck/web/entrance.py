"""The entrance: the page behind the code that the computer shows, and its button, which pairs a device."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable

from aiohttp import web

from matrixcheck.errors import MatrixCheckError
from matrixcheck.web.access import Door
from matrixcheck.web.devices import Device, name_from_agent
from matrixcheck.web.files import entrance_page, pairing_page, refusal_page
from matrixcheck.web.pairing import Pairing
from matrixcheck.web.tries import Tries

PATH = "/in/"

# Browsers keep no cookie longer than 400 days.
_COOKIE_SECONDS = 400 * 24 * 3600

_log = logging.getLogger(__name__)


class Entrance:
    """Pairs devices: `home` is the address where one goes on to, `paired` hears of each.

    Opening the page uses nothing up, since the preview of a link opens it as well. The button does.
    """

    def __init__(
        self, door: Door, pairing: Pairing, home: str, paired: Callable[[Device], object], wrong: Tries | None = None
    ) -> None:
        self._door = door
        self._pairing = pairing
        self._home = home
        self._paired = paired
        self._wrong = wrong or Tries(10, 60.0)

    def routes(self) -> list[web.RouteDef]:
        """Return what can be asked for here."""
        return [web.get(PATH + "{code}", self._page), web.post(PATH + "{code}", self._pair)]

    async def close(self) -> None:
        """End nothing: a page here isn't kept open."""

    async def _page(self, request: web.Request) -> web.StreamResponse:
        if self._door.holder_of(request.cookies.get(self._door.cookie)) is not None:
            return _page_of(entrance_page(self._home))
        if not self._pairing.takes(request.match_info["code"]):
            return self._not_good(request)
        return _page_of(pairing_page(name_from_agent(request.headers.get("User-Agent", ""))))

    async def _pair(self, request: web.Request) -> web.StreamResponse:
        form = await request.post()
        name = form.get("name", "")
        devices = self._door.devices
        # Adding a device may take a while, in which the used code must not be told as ended: a fresh one follows.
        with self._pairing.using(request.match_info["code"]) as good:
            if devices is None or not good:
                return self._not_good(request)
            try:
                device, secret = await asyncio.to_thread(devices.add, name if isinstance(name, str) else "")
            except MatrixCheckError as error:
                _log.warning("not paired: %s", error)
                return _page_of(refusal_page(f"Not paired: {error}", let_in=False), 409)
            self._paired(device)
        answer = _page_of(entrance_page(self._home))
        keep_cookie(answer, self._door, secret)
        return answer

    def _not_good(self, request: web.Request) -> web.Response:
        if self._wrong.allows(request.remote or ""):
            says, status = "This code was used or has ended: scan the one that the computer shows now.", 403
        else:
            says, status = "Too many wrong codes from this address: wait a minute, then scan the code again.", 429
        return _page_of(refusal_page(says, let_in=False), status)


def keep_cookie(answer: web.StreamResponse, door: Door, secret: str) -> None:
    """Have a browser keep its device's secret, out of reach of scripts and of other sites' pages."""
    answer.set_cookie(
        door.cookie, secret, max_age=_COOKIE_SECONDS, path="/", httponly=True, samesite="Strict", secure=door.secure
    )


def _page_of(text: str, status: int = 200) -> web.Response:
    return web.Response(text=text, content_type="text/html", status=status)
