"""A browser with a page of the screens in it, for tests that tap what they see."""

from __future__ import annotations

import contextlib
import json
import shutil
import time
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, Page, WebSocket, sync_playwright
from seen_screen import Pictures, SeenScreen, Spot
from served_book import DEADLINE

from matrixcheck.layout.reading import Mark
from matrixcheck.report.glyphs import FILLS, GLYPHS

# A glyph may be drawn like its neighbour in the alphabet: a bullet like a middle dot, a cross like a letter.
LOOKS = {**GLYPHS, Mark.UNTESTED: "∙·", Mark.DEAD: "✗x", Mark.STUCK: "\u2217*"}

# As root, in a container, without a network of its own accord.
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP bench.example 127.0.0.1",
)  # fmt: skip

DESKTOP = {"viewport": {"width": 1280, "height": 800}, "device_scale_factor": 1}
TABLET = {"viewport": {"width": 1024, "height": 768}, "device_scale_factor": 1, "has_touch": True, "is_mobile": True}
PHONE = {"viewport": {"width": 390, "height": 844}, "device_scale_factor": 1, "has_touch": True, "is_mobile": True}


@contextlib.contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's Chromium, headless. It must be there: without it nothing here was tested."""
    found = shutil.which("chromium")
    assert found, "these tests need Chromium: apt-get install chromium"
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=list(FLAGS))
        yield browser
        browser.close()


def eventually(holds: Callable[[], Any], pause: Callable[[], object], says: Callable[[], object]) -> Any:
    """The first true value of `holds` before the deadline; otherwise the test fails with what `says` tells."""
    end = time.monotonic() + DEADLINE
    while time.monotonic() < end:
        if value := holds():
            return value
        pause()
    raise AssertionError(f"waited {DEADLINE:.0f} s in vain:\n{says()}")


class Client:
    """One page in a browser of its own (no cookie shared with another), seen by screenshot, used by tap or click."""

    def __init__(self, browser: Browser, device: dict, address: str) -> None:
        self.context: BrowserContext = browser.new_context(**device)
        self.asked: set[str] = set()
        self.complaints: list[str] = []
        self.typed = ""
        self._touch = bool(device.get("has_touch"))
        self._size = (0, 0)
        self._pictures: Pictures | None = None
        self._shown: tuple[bytes, tuple[int, int]] | None = None
        self._seen: SeenScreen | None = None
        self.page: Page = self.context.new_page()
        self.page.on("request", lambda request: self.asked.add(urlsplit(request.url).netloc))
        self.page.on("websocket", self._watch)
        self.page.on("console", lambda said: self.complaints.append(said.text) if said.type == "error" else None)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(address)
        if "/in/" in address:
            pair = self.page.get_by_role("button", name="Pair this device")
            if pair.count():
                pair.click()
                self.page.wait_for_url(lambda url: "/in/" not in url)

    @property
    def columns(self) -> int:
        return self._size[0]

    @property
    def rows(self) -> int:
        return self._size[1]

    def screen(self) -> SeenScreen:
        """What is seen now."""
        self.page.locator("body.-first-byte").wait_for(timeout=DEADLINE * 1000)
        if self._pictures is None:
            box = self.page.locator(".xterm-screen").bounding_box()
            self._pictures = Pictures(self.page, round(box["width"] / self.columns), round(box["height"] / self.rows))
        shown = self.page.screenshot(), self._size
        if shown != self._shown:
            self._shown = shown
            self._seen = self._pictures.read(shown[0], *self._size)
        return self._seen

    def wait(self, holds: Callable[[], object]) -> Any:
        """Wait for something to hold; what is seen is told where it doesn't."""
        return eventually(
            holds, lambda: self.page.wait_for_timeout(50), lambda: f"{self.page.url} {self.typed!r}\n{self.screen()}"
        )

    def wait_for_spot(self, look: Callable[[SeenScreen], Spot | None]) -> Spot:
        """Wait until something is seen at the same spot twice running: not while the screen is being laid out."""
        seen: list[Spot | None] = [None]

        def still() -> Spot | None:
            seen.append(look(self.screen()))
            return seen[-1] if seen[-1] == seen[-2] else None

        return self.wait(still)

    def see(self, pattern: str) -> Spot:
        """Wait until a regular expression is seen."""
        return self.wait_for_spot(lambda screen: screen.find(pattern))

    def see_cell(self, number: int, mark: Mark | None = None, filled: bool = False) -> Spot:
        """Wait until a cell of the grid is seen, with this mark, and filled with its colour (where no cursor is)."""
        signs = "".join(LOOKS.values()) if mark is None else LOOKS[mark]

        def look(screen: SeenScreen) -> Spot | None:
            spot = screen.cell(number, signs)
            return spot if spot and (not filled or screen.fill_at(spot) == FILLS[mark]) else None

        return self.wait_for_spot(look)

    def tap(self, spot: Spot) -> None:
        """Tap or click the middle of what was seen."""
        (self.page.touchscreen.tap if self._touch else self.page.mouse.click)(spot.x, spot.y)

    def drag(self, x: float, from_y: float, to_y: float) -> None:
        """Put a finger down, draw it up or down in steps, and lift it."""
        touch = self.context.new_cdp_session(self.page)
        for kind, y in (("touchStart", from_y), *(("touchMove", from_y + (to_y - from_y) * i / 10) for i in range(11))):
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    def resize(self, width: int, height: int) -> None:
        """Give the page another size, which may change the size of its characters as well."""
        self.page.set_viewport_size({"width": width, "height": height})
        self._pictures = None

    def close(self) -> None:
        self.context.close()

    def _watch(self, socket: WebSocket) -> None:
        self.asked.add(urlsplit(socket.url).netloc)
        socket.on("framesent", self._note)

    def _note(self, sent: str | bytes) -> None:
        kind, *content = json.loads(sent)
        if kind == "resize":
            self._size = (content[0]["width"], content[0]["height"])
        elif kind == "stdin":
            self.typed += content[0]
