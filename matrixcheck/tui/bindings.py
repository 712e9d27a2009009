"""The bindings that Textual needs, made of the table of actions."""

from __future__ import annotations

from textual.binding import Binding, BindingType

from matrixcheck.tui.action import Place
from matrixcheck.tui.keymap import NO_KEYMAP, keys_of, stays, textual_name


def bindings_of(place: Place) -> list[BindingType]:
    """Bind the keys of a place. Those that a person may give to another action carry its name."""
    bindings: dict[str, Binding] = {}
    for action in place.actions:
        for key in keys_of(action, NO_KEYMAP):
            bindings.setdefault(
                key, Binding(textual_name(key), action.does, action.word, id=None if stays(action) else action.name)
            )
    return list(bindings.values())
