"""What a person may set of the screens, as plain data: Textual isn't imported to read a configuration."""

from __future__ import annotations

from typing import NamedTuple

THEME_NAMES = ("dark", "light")


class Look(NamedTuple):
    """How the screens start: one of `THEME_NAMES`, and whether a bell rings for every number kept in a roll."""

    theme: str = THEME_NAMES[0]
    bell: bool = False
