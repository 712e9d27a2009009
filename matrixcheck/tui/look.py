"""What a person may set of the screens, as plain data: Textual isn't imported to read a configuration."""

from __future__ import annotations

from typing import NamedTuple

from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.tui.keymap import NO_KEYMAP, Keymap

THEME_NAMES = ("dark", "light", "high-contrast", "high-contrast-light")


class Look(NamedTuple):
    """How the screens start.

    One of `THEME_NAMES`, whether a bell rings for every number kept in a roll, the keys that actions have in place of
    their own, and what an earth bond is held to.
    """

    theme: str = THEME_NAMES[0]
    bell: bool = False
    keys: Keymap = NO_KEYMAP
    mains_region: EarthLimit = EarthLimit.PLUS_LEAD


LOOK = Look()
"""What holds where nothing was set."""
