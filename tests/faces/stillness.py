"""Screens under a test's hands without the waits and the paint that only a terminal needs."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable
from functools import cache
from typing import Any

from rich.console import RenderableType
from textual._compositor import Compositor
from textual._context import active_app
from textual.css.model import RuleSet
from textual.css.stylesheet import Stylesheet
from textual.css.types import CSSLocation
from textual.message import Message
from textual.message_pump import MessagePump
from textual.pilot import Pilot
from textual.screen import Screen

BREATH = 0.005
"""Seconds from one look at what threads do to the next."""
PATIENCE = 30.0
"""Seconds that the screens have for one thing."""


async def at_rest(*_: float) -> None:
    """Let the event loop run until nothing is ready, with what is due at the next frame done at once.

    Textual's pilot sleeps a fiftieth of a second, several times a key, and asks how busy the process was meanwhile.
    What threads do is not waited for: `Machine.settle` does that.
    """
    loop: Any = asyncio.get_running_loop()
    app = active_app.get()
    while True:
        await asyncio.sleep(0)
        if loop._ready:
            continue
        screen = app.screen  # another one, maybe, than a moment ago
        if not screen.is_current or not screen._update_timer._active.is_set():
            return
        screen._on_timer_update()


async def all_read(pilot: Pilot[Any], *_: float) -> None:
    """Wait until each widget of the screen has done what it was told, also where that waits for a thread.

    Textual's pilot sends each of them a message, and waits until all have read theirs: that is most of all messages.
    Here each is looked at: whoever waits for its next message has none left.
    """
    loop: Any = asyncio.get_running_loop()
    app = pilot.app
    async with asyncio.timeout(PATIENCE):
        while app._exception is None and any(map(_is_busy, (app, *app.screen.walk_children(with_self=True)))):
            await asyncio.sleep(0 if loop._ready else BREATH)


def _is_busy(pump: MessagePump) -> bool:
    queue: Any = pump._message_queue
    return pump.is_running and not pump._closing and not (queue.empty() and queue.ready_event._waiters)


PARSED: dict[tuple[Any, ...], list[RuleSet]] = {}
READ = Stylesheet._parse_rules


def read_once(sheet: Stylesheet, css: str, read_from: CSSLocation, *how: Any, **named: Any) -> list[RuleSet]:
    """Parse styles as Textual does, but the same ones once for all screen programs of a test run."""
    key = (css, read_from, how, *named.items(), *sheet._variables.items())
    if key not in PARSED:
        PARSED[key] = READ(sheet, css, read_from, *how, **named)
    return PARSED[key]


HANDLERS: dict[tuple[type, str, type], tuple[tuple[type, Any], ...]] = {}
LOOK_FOR_HANDLERS = MessagePump._get_dispatch_methods


def handlers_found_once(pump: MessagePump, name: str, message: Message) -> Iterable[tuple[type, Any]]:
    """Find what handles a message as Textual does, but once for each class of widget and of message in a test.

    Not where a selector may decide.
    """
    if message._no_default_action or any(_selects(cls) for cls in type(pump).__mro__):
        yield from LOOK_FOR_HANDLERS(pump, name, message)
        return
    key = (type(pump), name, type(message))
    if key not in HANDLERS:
        HANDLERS[key] = tuple((cls, found.__func__) for cls, found in LOOK_FOR_HANDLERS(pump, name, message))
    for cls, handler in HANDLERS[key]:
        if message._no_default_action:
            break
        yield cls, handler.__get__(pump, cls)


@cache
def _selects(cls: type) -> bool:
    """Whether a class has handlers for messages of some widgets only."""
    return bool(vars(cls).get("_decorated_handlers"))


PAINTED = Compositor.render_update


def unpainted(
    compositor: Compositor, full: bool = False, screen_stack: list[Screen[Any]] | None = None, simplify: bool = False
) -> RenderableType | None:
    """Take what is to be painted as painted, unless a picture of the whole screen is asked for.

    Without a terminal Textual throws each painted frame away. `Machine.text` renders the whole screen by itself.
    """
    if full:
        return PAINTED(compositor, full, screen_stack, simplify)
    compositor._dirty_regions.clear()
    return None
