"""The screens behind a web page: how they talk to it beyond what a terminal can say."""

from __future__ import annotations

import asyncio
import signal

from textual import messages
from textual.drivers.web_driver import WebDriver


class PageDriver(WebDriver):
    """Textual's driver for a web page, which also says where the screens are, and ends when nobody listens any more."""

    def start_application_mode(self) -> None:
        """Take the page. Textual listens to the other signals that ask for an end."""
        super().start_application_mode()
        asyncio.get_running_loop().add_signal_handler(signal.SIGHUP, self._app.exit)

    def run_input_thread(self) -> None:
        """Read what the page sends. At its end the server has gone, and the screens must not stay without one."""
        super().run_input_thread()
        self._app.post_message(messages.ExitApp())

    def show_address(self, job: str | None, matrix: str | None) -> None:
        """Let the page's address follow the screens, so that a reload comes back to this job and matrix."""
        self.write_meta({"type": "place", "job": job, "matrix": matrix})
