"""The later list: what still has to be tested, by what must be done to get at it."""

from __future__ import annotations

from contextlib import suppress

from textual.app import ComposeResult

from matrixcheck.errors import MatrixCheckError
from matrixcheck.record.summary import later_list
from matrixcheck.report.later import Waiting, waiting
from matrixcheck.tui.actions import LATER_PAGE
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.messages import BookChanged, StateChanged
from matrixcheck.tui.screens.pick_page import PickPage
from matrixcheck.tui.text.job import danger_first
from matrixcheck.tui.widgets.keybar import KeyBar
from matrixcheck.tui.widgets.lines import Lines
from matrixcheck.tui.widgets.picks import Pick, Picks
from matrixcheck.tui.widths import PHONE


class LaterScreen(PickPage[Waiting | None]):
    """Hands back the group that a round shall go through, or None."""

    PLACE = LATER_PAGE

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk
        self._groups: tuple[Waiting, ...] = ()

    def compose(self) -> ComposeResult:
        """Compose head, groups, keys."""
        yield Lines(id="head")
        yield Picks((), id="groups")
        yield KeyBar(self.bar(), id="keys")

    def on_mount(self) -> None:
        """Read the list, and point at the group that was pointed at last."""
        self._show()
        self.query_one(Picks).return_to(self._desk.left.lists.get(self.PLACE.name))

    def on_screen_suspend(self) -> None:
        """Keep which group is pointed at, for the way back."""
        self._desk.left.lists[self.PLACE.name] = self.query_one(Picks).place

    def on_book_changed(self, message: BookChanged) -> None:
        """Show what another process wrote; where a coil is on at rest, the job says so."""
        message.stop()
        self.run_worker(self._read_anew(), group="read")

    def on_state_changed(self, message: StateChanged) -> None:
        """Show what was kept for a screen that was left since."""
        message.stop()
        if self.is_open:
            self._show()

    async def _read_anew(self) -> None:
        with suppress(MatrixCheckError):
            await self._desk.reload()
        if self.is_open and self._desk.state.coils.stop:
            self.dismiss(None)
            return
        if self.is_open:
            self._show()

    def picked(self, place: int) -> None:
        """Begin a round through this group."""
        self.dismiss(self._groups[place])

    def _show(self) -> None:
        items = later_list(self._desk.state)
        self._groups = waiting(items)
        order = ", least work first" if self.app.size.width >= PHONE else ""
        said = f"{len(items)} to test{order}" if items else "Nothing is left to test."
        self.query_one("#head", Lines).show(
            [(*danger_first(self._desk.state), ("The later list", "title"), (f"  {said}", "quiet"))]
        )
        self.query_one(Picks).offer([Pick(group.name, group.says) for group in self._groups])
