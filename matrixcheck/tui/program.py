"""What the screens know of the program that they run in."""

from __future__ import annotations

from abc import abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING

from matrixcheck.tui.look import Look

if TYPE_CHECKING:
    from matrixcheck.tui.navigation import Navigation


class Program:
    """What a person has set of the screens, and the ways between them."""

    look: Look
    own_book: Path | None
    """The book to go back to, where the demonstration's is shown."""

    @property
    @abstractmethod
    def has_demo(self) -> bool:
        """Return whether the demonstration's book can be looked at from here."""

    @abstractmethod
    def look_at_demo(self) -> None:
        """Show the demonstration's book in place of one's own."""

    @property
    @abstractmethod
    def navigation(self) -> Navigation:
        """Return the ways between the screens."""
