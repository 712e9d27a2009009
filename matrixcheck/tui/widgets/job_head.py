"""The head of a job's screen: the job in a line, and one more where its layout's file changed since."""

from __future__ import annotations

import asyncio

from matrixcheck.bench.relaying import news_of
from matrixcheck.tui.job_session import Desk
from matrixcheck.tui.text.job import headline
from matrixcheck.tui.widgets.lines import Lines


class JobHead(Lines):
    """Says which job it is. The layout's file is looked at beside, so that nothing waits for it."""

    def __init__(self, desk: Desk, *, id: str | None = None) -> None:  # noqa: A002
        super().__init__(headline(desk.state, desk.elsewhere), id=id)
        self._desk = desk
        self._news = ""

    def on_mount(self) -> None:
        """Look at the layout's file."""
        self._look()

    def show_job(self) -> None:
        """Show the job as it is now."""
        self.show(headline(self._desk.state, self._desk.elsewhere, self._news))
        self._look()

    def _look(self) -> None:
        if self._desk.state.source.file:
            self.run_worker(self._say_news(), group="layout file", exclusive=True)

    async def _say_news(self) -> None:
        state = self._desk.state
        self._news = await asyncio.to_thread(news_of, state.source, state.layout, state.id)
        self.show(headline(self._desk.state, self._desk.elsewhere, self._news))
