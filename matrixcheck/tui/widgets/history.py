"""The history of a job as lines, one of them pointed at."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.bench import LogLine
from matrixcheck.tui.text.log import log_block
from matrixcheck.tui.text.spans import Row, Span
from matrixcheck.tui.widgets.item_list import Blocks, PointedList
from matrixcheck.tui.widths import WIDE

HERE: Span = ("▌", "alert")
ELSEWHERE: Span = (" ", "plain")


class History(PointedList):
    """Every event of a job, newest first."""

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id)
        self._lines: tuple[LogLine, ...] = ()

    @property
    def count(self) -> int:
        """Return how many events there are."""
        return len(self._lines)

    def name_at(self, place: int) -> str:
        """Return the number of an event; nothing for the newest, which is found again as that."""
        return str(self._lines[place].seq) if place and self._lines else ""

    @property
    def pointed(self) -> LogLine | None:
        """Return the event pointed at."""
        return self._lines[self.here] if self._lines else None

    def show_lines(self, lines: Sequence[LogLine]) -> None:
        """Show these events, given oldest first; the one pointed at stays so, the newest where that was."""
        here = self.pointed
        newest = self.here == 0
        self._lines = tuple(reversed(lines))
        place = 0 if here is None or newest else len(self._lines) - here.seq
        self.point(place)

    def blocks(self) -> Blocks:
        """Return the lines of each event."""
        width, beside = max(self.size.width - 1, 20), self.app.size.width >= WIDE
        return [
            [(HERE if place == self.here else ELSEWHERE, *each) for each in log_block(line, width, beside)]
            for place, line in enumerate(self._lines)
        ]

    def page(self) -> None:
        """Point a page further on, at the end at the newest again."""
        last = self.here + 1 >= self.count
        self.point(0 if last else min(self.here + max(self.size.height // 2, 1), self.count - 1))

    def above(self) -> Sequence[Row]:
        """Return nothing: a job has at least its opening."""
        return ()
