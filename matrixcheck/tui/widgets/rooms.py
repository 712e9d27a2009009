"""Widgets that keep what they drew: Textual asks for every line of all widgets in a room where one cell changed."""

from __future__ import annotations

from typing import Self

from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget


class Remembering(Widget):
    """A widget that draws a line again only where something asked for that."""

    _kept_lines: tuple[Region, list[Strip]] | None = None
    _stale_lines: Region | None = None
    """The lines that are to be drawn again, if not all are."""

    def render_lines(self, crop: Region) -> list[Strip]:
        """Return the lines in sight."""
        if self._kept_lines is None or self._kept_lines[0] != crop:
            self._kept_lines = crop, self.draw_lines(crop)
        elif self._stale_lines is not None and (anew := crop.intersection(self._stale_lines)):
            lines, first = self._kept_lines[1], anew.y - crop.y
            self._kept_lines = crop, [*lines[:first], *self.draw_lines(anew), *lines[first + anew.height :]]
        self._stale_lines = None
        return self._kept_lines[1]

    def draw_lines(self, crop: Region) -> list[Strip]:
        """Draw lines."""
        return super().render_lines(crop)

    def refresh(self, *regions: Region, repaint: bool = True, layout: bool = False, recompose: bool = False) -> Self:
        """Have it drawn again, or the lines of these regions."""
        if regions and self._kept_lines is not None:
            of_content = Region.from_union([*regions]).translate(self.content_offset)
            across = self._kept_lines[0]
            stale = Region(across.x, of_content.y, across.width, of_content.height)
            self._stale_lines = stale if self._stale_lines is None else self._stale_lines.union(stale)
        else:
            self._forget()
        return super().refresh(*regions, repaint=repaint, layout=layout, recompose=recompose)

    def notify_style_update(self) -> None:
        """Have it drawn again, as it may look otherwise."""
        self._forget()
        super().notify_style_update()

    def _forget(self) -> None:
        self._kept_lines = self._stale_lines = None


class Room(Remembering):
    """A room that shows nothing but its ground, and other widgets on it. Its lines look alike: one is drawn for all."""

    def draw_lines(self, crop: Region) -> list[Strip]:
        """Draw one line, and give it for each."""
        return super().draw_lines(Region(crop.x, 0, crop.width, min(crop.height, 1))) * crop.height
