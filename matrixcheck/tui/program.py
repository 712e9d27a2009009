"""What the screens know of the program that they run in."""

from __future__ import annotations

from abc import abstractmethod
from typing import TYPE_CHECKING

from matrixcheck.tui.look import Look

if TYPE_CHECKING:
    from matrixcheck.tui.navigation import Navigation


class Program:
    """What a person has set of the screens, and the ways between them."""

    look: Look

    @property
    @abstractmethod
    def navigation(self) -> Navigation:
        """Return the ways between the screens."""
