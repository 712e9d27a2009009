"""Where the screens are, given to a page in front of them."""

from __future__ import annotations

from typing import Any, Protocol, runtime_checkable

from textual.app import App


@runtime_checkable
class Follower(Protocol):
    """A driver whose page has an address that follows the screens."""

    def show_address(self, job: str | None, matrix: str | None) -> None:
        """Take note of the job and the matrix that the screens show."""


def show_address(app: App[Any], job: str | None, matrix: str | None) -> None:
    """Tell the page, where there is one, which job and matrix the screens show."""
    driver = app._driver
    if isinstance(driver, Follower):
        driver.show_address(job, matrix)
