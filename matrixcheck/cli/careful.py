"""A console on which no text steers the terminal, wherever it comes from; colours are the console's own."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment

from matrixcheck.cli.saying import clean


class CarefulConsole(Console):
    """A rich console that prints blanks for control characters."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        """Yield segments of a renderable, their texts clean."""
        for segment in super().render(renderable, options):
            yield segment if segment.control else segment._replace(text=clean(segment.text))
