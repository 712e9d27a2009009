"""Lines of text that repaint one by one: the base of every widget here that shows more than one fact."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from rich.cells import cell_len
from textual import events
from textual.geometry import Region, Size
from textual.strip import Strip

from matrixcheck.tui.text.spans import Row, changed, fitted, shortened
from matrixcheck.tui.widgets.toned import Toned


class Lines(Toned):
    """Shows rows of spans, from the top. What is longer than the widget is wide, or high, ends in an ellipsis.

    A row is drawn again up to what changed in it: Textual writes what it writes of a row from its start.
    """

    def __init__(self, rows: Iterable[Row] = (), *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self._rows: tuple[Row, ...] = tuple(rows)

    @property
    def rows(self) -> tuple[Row, ...]:
        """Return what is shown."""
        return self._rows

    def show(self, rows: Iterable[Row]) -> None:
        """Show these rows from now on."""
        old, new = self._rows, tuple(rows)
        if old == new:
            return
        self._rows = new
        if self._outgrown():
            self.refresh(layout=True)
            return
        width, height = self.size
        old, new = self._in_sight(old), self._in_sight(new)
        regions = [
            Region(0, y, length, 1)
            for y in range(min(max(len(old), len(new)), height))
            if (length := _changed(_row(old, y, width), _row(new, y, width)))
        ]
        if regions:
            self.refresh(*regions)

    def _outgrown(self) -> bool:
        """Return whether the rows need another room than they have, where the room follows them."""
        styles, (width, height) = self.styles, self.size
        taller = styles.is_auto_height and self.height_wanted != height
        return taller or (styles.is_auto_width and self._longest != width)

    @property
    def height_wanted(self) -> int:
        """Return how many lines there are to show."""
        return len(self._rows)

    @property
    def _longest(self) -> int:
        return max((_length(self._rows, y) for y in range(len(self._rows))), default=0)

    def hit(self, event: events.Click) -> tuple[int, int] | None:
        """Return where in the rows a click fell, as (x, y); None beside them."""
        offset = event.get_content_offset(self)
        return (offset.x, offset.y) if offset else None

    def render_line(self, y: int) -> Strip:
        """Return one row as a strip."""
        width = self.size.width
        return self.strip_of(_row(self._in_sight(self._rows), y, width), width)

    def _in_sight(self, rows: tuple[Row, ...]) -> tuple[Row, ...]:
        """Return the rows that the widget is high enough for, the last with an ellipsis where there are more."""
        width, height = self.size
        return shortened(rows, height, width) if height and self.is_limited else rows

    @property
    def is_limited(self) -> bool:
        """Return whether there may be more rows than it is high: its height doesn't follow them, or has a limit."""
        return not self.styles.is_auto_height or self.styles.max_height is not None

    def get_content_width(self, container: Size, viewport: Size) -> int:
        """Return the width of the longest row."""
        del container, viewport
        return self._longest

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Return the count of rows."""
        del container, viewport, width
        return self.height_wanted


class Wrapped(Lines):
    """Shows rows that were wrapped for the screen's width. Its page has them wrapped anew where that changes."""

    def __init__(
        self,
        wrap: Callable[[], Iterable[Row]],
        *,
        id: str | None = None,  # noqa: A002
        classes: str | None = None,
    ) -> None:
        super().__init__(wrap(), id=id, classes=classes)
        self._wrap = wrap

    def wrap_anew(self) -> None:
        """Wrap the rows for the width that the screen has now."""
        self.show(self._wrap())


def _row(rows: tuple[Row, ...], y: int, width: int) -> Row:
    """Return a row as it is shown; below the last one, nothing."""
    return fitted(rows[y], width) if y < len(rows) else ()


def _changed(old: Row, new: Row) -> int:
    """Return how many columns there are from the start of two rows to the last in which they differ."""
    texts = ["".join(text for text, _ in row) for row in (old, new)]
    if old != new and any(cell_len(text) != len(text) for text in texts):
        return max(map(cell_len, texts))  # signs of double width put characters and columns out of step
    return changed(old, new)


def _length(rows: tuple[Row, ...], y: int) -> int:
    return sum(len(text) for text, _ in rows[y]) if y < len(rows) else 0
