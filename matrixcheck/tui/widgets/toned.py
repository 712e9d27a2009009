"""The tones of text as styles. One widget of a screen carries them for all others: styling is what starting costs."""

from __future__ import annotations

from typing import Any, ClassVar, TypeVar

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.await_complete import AwaitComplete
from textual.geometry import Region
from textual.screen import Screen
from textual.strip import Strip

from matrixcheck.tui.action import Place
from matrixcheck.tui.bindings import bindings_of
from matrixcheck.tui.text.spans import TONES, Row, Tone
from matrixcheck.tui.widgets.rooms import Remembering

Result = TypeVar("Result")


def taken(event: events.Key) -> None:
    """Keep a key from everybody else."""
    event.stop()
    event.prevent_default()


class TonedScreen(Screen[Result]):
    """A screen whose widgets may ask it for tones, and whose keys are those of its place in the table of actions."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"tone--{tone}" for tone in TONES}
    PLACE: ClassVar[Place]
    """What its keys do."""

    def __init_subclass__(cls, **options: bool) -> None:
        """Make the bindings of a screen from its place."""
        if "PLACE" in vars(cls):
            cls.BINDINGS = bindings_of(cls.PLACE)
        super().__init_subclass__(**options)

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Leave the screen, once: Textual would take the second of two quick taps for the screen below."""
        return super().dismiss(result) if self.is_top else AwaitComplete()

    async def on_event(self, event: events.Event) -> None:
        """Hand a key on that was on its way here when another screen came before this one; style nothing twice."""
        if isinstance(event, events.Key) and not self.is_top:
            (self.app.focused or self.app.screen).post_message(event)
            return
        if isinstance(event, events.ScreenResume) and not self.stack_updates:
            # Its widgets got their styles just now, as they were mounted.
            event.refresh_styles = False
        await super().on_event(event)

    async def on_key(self, event: events.Key) -> None:
        """Do what the key is bound to.

        Textual would let keys pass by here and look them up later, by then out of the order in which they were typed.
        """
        bound = self.active_bindings.get(event.key)
        if bound is not None and bound.enabled:
            taken(event)
            await self.app.run_action(bound.binding.action, bound.node)

    @property
    def is_top(self) -> bool:
        """Return whether no other screen lies over this one, and it wasn't left."""
        return self.app.screen is self


class Toned(Remembering):
    """A widget that draws rows of spans in the tones of its screen."""

    def __init__(self, *, id: str | None = None, classes: str | None = None) -> None:  # noqa: A002
        super().__init__(id=id, classes=classes)
        self._styles_of_tones: dict[Tone | None, Style] = {}

    def strip_of(self, spans: Row, width: int) -> Strip:
        """Return a row as Textual wants it, filled up or cut to `width`.

        Blanks look alike in every tone of the same ground: those that fill the row up go with what stands before them,
        for a change of tone costs a terminal more than they do.
        """
        ground = self._style(None)
        segments = [Segment(text, self._style(tone)) for text, tone in spans]
        room = width - sum(cell_len(text) for text, _ in spans)
        if segments and room > 0:
            text, style, _ = segments[-1]
            if style and style.bgcolor == ground.bgcolor and not style.underline:
                segments[-1], room = Segment(text + " " * room, style), 0
        return Strip(segments, width - room).adjust_cell_length(width, ground)

    def draw_lines(self, crop: Region) -> list[Strip]:
        """Draw lines. Where nothing stands round the content they are drawn straight: Textual's way is for frames."""
        if self.styles.gutter:
            return super().draw_lines(crop)
        strips = [self.render_line(y) for y in crop.line_range]
        background = self.background_colors[1]
        for line_filter in self.get_line_filters():
            strips = [strip.apply_filter(line_filter, background) for strip in strips]
        return [strip.crop(*crop.column_span) for strip in strips]

    def notify_style_update(self) -> None:
        """Forget styles that another theme may have changed."""
        super().notify_style_update()
        self._styles_of_tones.clear()

    def _style(self, tone: Tone | None) -> Style:
        style = self._styles_of_tones.get(tone)
        if style is None:
            if tone is None:
                style = self.rich_style
            else:
                screen: Screen[Any] = self.screen
                style = self._style(None) + screen.get_component_rich_style(f"tone--{tone}", partial=True)
            self._styles_of_tones[tone] = style
        return style
